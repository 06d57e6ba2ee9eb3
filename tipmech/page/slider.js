// The framework's slider, whose part that takes the focus says what it is and where it stands; Home and End
// take it to its ends (slider.py).
const TOLD = ["aria-valuemin", "aria-valuemax", "aria-valuenow", "aria-orientation", "aria-disabled"];
export default {
  template: `<q-slider />`,
  props: { label: String, unit: String },
  mounted() {
    this.tell();
    this.$el.querySelector(".q-slider__track-container").addEventListener("keydown", this.toEnd);
  },
  updated() {
    this.tell();
  },
  methods: {
    // the framework's slider knows arrows and pages, but no ends
    toEnd(event) {
      const end = { Home: this.$attrs.min, End: this.$attrs.max }[event.key];
      if (end === undefined || event.ctrlKey || event.altKey || event.metaKey || this.$attrs.disable) return;
      event.preventDefault();
      this.$emit("update:model-value", end);
    },
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
