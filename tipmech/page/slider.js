// The framework's slider, whose part that takes the focus says what it is and where it stands (slider.py).
const TOLD = ["aria-valuemin", "aria-valuemax", "aria-valuenow", "aria-orientation", "aria-disabled"];
export default {
  template: `<q-slider />`,
  props: { label: String, unit: String },
  mounted() {
    this.tell();
  },
  updated() {
    this.tell();
  },
  methods: {
    tell() {
      const part = this.$el.querySelector(".q-slider__track-container");
      for (const name of TOLD) {
        if (this.$el.hasAttribute(name)) part.setAttribute(name, this.$el.getAttribute(name));
        else part.removeAttribute(name);
      }
      this.$el.setAttribute("role", "presentation");
      part.setAttribute("role", "slider");
      part.setAttribute("aria-label", this.label);
      part.setAttribute("aria-valuetext", `${this.$el.getAttribute("aria-valuenow")} ${this.unit}`.trim());
    },
  },
};
