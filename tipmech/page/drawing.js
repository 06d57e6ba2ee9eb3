// A drawing of shapes whose attributes are sent one by one as they change (drawing.py).
export default {
  template: `
    <svg role="img" :aria-label="label" :viewBox="box" :data-painted="painted" preserveAspectRatio="xMidYMid meet">
      <component v-for="shape in shapes" :key="shape.name" :is="shape.tag" v-bind="looks(shape)">{{ words(shape) }}</component>
    </svg>`,
  props: { shapes: Array, label: String, first: String },
  data() {
    return { paint: {}, box: this.first, painted: 0, number: 0 };
  },
  updated() {
    if (this.number) this.$emit("painted", this.number);
    this.number = 0;
  },
  methods: {
    looks(shape) {
      const { text, ...looks } = { ...shape.look, ...this.paint[shape.name] };
      return looks;
    },
    words(shape) {
      return this.paint[shape.name]?.text ?? shape.look.text ?? "";
    },
    draw(news, box, number) {
      for (const name in news) this.paint[name] = { ...this.paint[name], ...news[name] };
      if (box) this.box = box;
      this.painted += 1;
      this.number = number;
    },
  },
};
