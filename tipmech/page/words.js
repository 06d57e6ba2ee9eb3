// A text that changes often (board.py).
export default {
  template: `<div>{{ first }}</div>`,
  props: { first: String },
  methods: {
    say(text) {
      this.$el.textContent = text;
    },
  },
};
