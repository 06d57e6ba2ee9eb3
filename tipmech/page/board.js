// Calls of other components' methods, all of a frame at once (board.py).
export default {
  template: `<span hidden></span>`,
  methods: {
    carry(calls) {
      for (const [id, method, args] of calls) getElement(id)?.[method](...args);
    },
  },
};
