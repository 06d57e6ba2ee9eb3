// A drawing of shapes whose attributes are sent as they change, and set on the nodes themselves (drawing.py).
export default {
  template: `
    <svg role="img" :aria-label="label" :viewBox="first" data-painted="0" preserveAspectRatio="xMidYMid meet">
      <component v-for="shape in shapes" :key="shape.name" :is="shape.tag" v-bind="looks(shape)">{{ words(shape) }}</component>
    </svg>`,
  props: { shapes: Array, label: String, first: String },
  created() {
    this.paint = {}; // what was sent so far: not watched, for a changed shape is set by hand
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
      this.shapes.forEach(({ name }, k) => {
        if (!(name in news)) return;
        this.paint[name] = { ...this.paint[name], ...news[name] };
        const { text, ...looks } = news[name];
        const node = this.$el.children[k];
        for (const look in looks) node.setAttribute(look, looks[look]);
        if (text !== undefined) node.textContent = text;
      });
      if (box) this.$el.setAttribute("viewBox", box);
      requestAnimationFrame(() => {
        this.$el.dataset.painted = Number(this.$el.dataset.painted) + 1;
        if (number) this.$emit("painted", number);
      });
    },
  },
};
