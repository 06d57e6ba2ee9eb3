// A picture that changes often (board.py). What is there before the first is one empty pixel.
const NOTHING = "data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw==";
export default {
  template: `<img :src="nothing" :width="width" :height="height" :alt="label" data-pictures="0" />`,
  props: { width: Number, height: Number, label: String },
  data: () => ({ nothing: NOTHING }),
  methods: {
    show(url) {
      this.$el.src = url;
      this.$el.dataset.pictures = Number(this.$el.dataset.pictures) + 1;
    },
  },
};
