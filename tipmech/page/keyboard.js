// Keys of the page (keyboard.py). Which are held is known here: a key that went down is told to be up wherever the
// focus is by then and whatever else is held, and when its going up may never be heard of.
const FIELDS = ["INPUT", "SELECT", "TEXTAREA"];
const PASSING = ["Control", "Shift", "Alt", "AltGraph"];
export default {
  template: `<span hidden></span>`,
  props: { everywhere: Array },
  mounted() {
    this.held = new Set();
    this.on = [
      [document, "keydown", this.down],
      [document, "keyup", this.up],
      [document, "visibilitychange", () => document.hidden && this.release()],
      [document, "contextmenu", this.release],
      [window, "blur", this.release],
    ];
    for (const [place, name, act] of this.on) place.addEventListener(name, act, true);
  },
  unmounted() {
    for (const [place, name, act] of this.on) place.removeEventListener(name, act, true);
  },
  methods: {
    code: (event) => event.code || event.key?.toLowerCase(), // keyboards on a screen may send no code
    down(event) {
      if (event.key === "Meta") return this.release(); // some systems tell of no key that goes up under it
      if (!event.key || event.repeat || event.ctrlKey || event.altKey || event.metaKey) return;
      if (PASSING.includes(event.key)) return;
      const typing = FIELDS.includes(document.activeElement?.tagName);
      if (typing && !this.everywhere.includes(event.key.toLowerCase())) return;
      if (typing) event.preventDefault(); // not typed as well
      this.held.add(this.code(event));
      this.$emit("down", { key: event.key, code: this.code(event), shift: event.shiftKey });
    },
    up(event) {
      if (this.held.delete(this.code(event))) this.$emit("up", { code: this.code(event) });
    },
    release() {
      if (!this.held.size) return;
      this.held.clear();
      this.$emit("release");
    },
  },
};
