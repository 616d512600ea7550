// The drawing: canopy, lines and payload in three dimensions, and a handle for each key that can be turned.
// Handles are buttons over the canvas, so that a mouse, a finger, a keyboard and a screen reader find them.
// Body axes (x forward, y right, z down) become x forward, y left, z up.
import { OrbitControls, THREE } from "nicegui-scene";
import { Parts, lights, place } from "parasim-parts";

const VIEWS = { quarter: [1.0, 0.75, 0.35], front: [1, 0, 0.001], side: [0, 1, 0.001], above: [0.001, 0, 1] };
const LEAST = 0.12; // a handle that points at the viewer still moves by this part of its way

export default {
  template: `
    <div class="drawing" role="group" :aria-label="label">
      <canvas ref="canvas" tabindex="0" :aria-label="label + '. Arrow keys turn it, plus and minus bring it nearer or farther.'"></canvas>
      <div ref="handles" class="handles"><svg aria-hidden="true"><path ref="leaders"/></svg></div>
      <p ref="without" class="without" hidden>No drawing: this browser shows no WebGL. Fields and figures work without it.</p>
    </div>`,
  props: { label: String },
  mounted() {
    this.knobs = new Map();
    this.stroke = 0;
    this.sent = 0;
    this.waiting = null;
    this.next = null;
    this.times = [];
    window.parasimTimes = this.times;
    this.scene = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(28, 1, 0.01, 200);
    this.camera.up.set(0, 0, 1);
    this.center = new THREE.Vector3();
    this.radius = 0;
    this.parts = new Parts();
    this.scene.add(this.parts, ...lights());
    try {
      this.renderer = new THREE.WebGLRenderer({ canvas: this.$refs.canvas, antialias: true, alpha: true });
      this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    } catch {
      this.$refs.without.hidden = false;
    }
    this.controls = new OrbitControls(this.camera, this.$refs.canvas);
    this.controls.addEventListener("change", () => this.draw());
    this.$refs.canvas.addEventListener("keydown", (event) => this.turn(event));
    this.watching = new ResizeObserver(() => this.resize());
    this.watching.observe(this.$el);
    this.keys = (event) => this.step(event);
    window.addEventListener("keydown", this.keys);
    this.starting = setInterval(() => this.start(), 10);
  },
  unmounted() {
    clearInterval(this.starting);
    window.removeEventListener("keydown", this.keys);
    this.watching.disconnect();
    this.renderer?.dispose();
  },
  methods: {
    // Once the server listens: ask for the scene, and show when it no longer does.
    start() {
      if (!window.socket?.id) return;
      clearInterval(this.starting);
      window.socket.on("disconnect", () => document.body.classList.add("stopped"));
      window.socket.on("connect", () => document.body.classList.remove("stopped"));
      this.$emit("ready");
    },
    // Undo and redo by the keyboard; in a field that is being typed in, the browser's own.
    step(event) {
      if (!(event.ctrlKey || event.metaKey) || event.altKey) return;
      const key = event.key.toLowerCase();
      const redo = key === "y" || (key === "z" && event.shiftKey);
      if (!redo && key !== "z") return;
      if (event.target.closest?.("[data-typed]") || event.target.closest?.("[role=dialog]")) return;
      event.preventDefault();
      this.$emit(redo ? "redo" : "undo");
    },
    // Draw a scene (Scene.document in Python) and its knobs.
    show(scene, knobs) {
      this.parts.canopy(scene);
      this.parts.segments("risers", scene.risers.flat(), 0x111111);
      this.parts.box(scene.payload);
      const stems = knobs.flatMap((k) => (k.root.some((x, i) => x !== k.place[i]) ? [k.root, k.place] : []));
      this.parts.segments("stems", stems, 0x2a6a2a);
      this.turnable(knobs);
      if (!this.radius) this.look("quarter");
      else this.draw();
    },
    turnable(knobs) {
      for (const knob of knobs) {
        let held = this.knobs.get(knob.key);
        if (!held) {
          held = { button: this.handle(knob.key) };
          this.knobs.set(knob.key, held);
        }
        Object.assign(held, knob);
        if (held.pulled === undefined) this.name(held, knob.value, knob.text);
      }
      for (const [key, held] of this.knobs)
        if (!knobs.some((knob) => knob.key === key)) {
          held.button.remove();
          this.knobs.delete(key);
        }
    },
    name(held, value, text) {
      held.button.setAttribute("aria-valuenow", value);
      held.button.setAttribute("aria-valuetext", text);
      held.button.setAttribute("aria-label", held.words);
      held.button.lastChild.firstChild.textContent = held.words;
      held.button.lastChild.lastChild.textContent = ` ${text}`;
    },
    handle(key) {
      const button = document.createElement("div");
      button.className = "handle";
      button.tabIndex = 0;
      button.setAttribute("role", "slider");
      button.dataset.key = key;
      const words = document.createElement("span");
      words.append(document.createTextNode(""), document.createElement("b"));
      button.append(document.createElement("i"), words);
      button.addEventListener("pointerdown", (event) => this.press(event, key));
      button.addEventListener("pointermove", (event) => this.pull(event, key));
      for (const end of ["pointerup", "pointercancel"]) button.addEventListener(end, () => this.release(key));
      button.addEventListener("keydown", (event) => this.nudge(event, key));
      this.$refs.handles.append(button);
      return button;
    },
    press(event, key) {
      const held = this.knobs.get(key);
      if (event.button !== 0 || document.body.classList.contains("stopped")) return;
      event.preventDefault();
      held.button.focus({ preventScroll: true });
      held.button.setPointerCapture(event.pointerId);
      const slope = this.slope(held);
      held.grip = { x: event.clientX, y: event.clientY, from: held.value, slope, stroke: `drag ${++this.stroke}` };
    },
    // Pixels on the screen for one unit of the key, at least a little.
    slope(held) {
      const size = new THREE.Vector3(...held.along).length() || 1;
      const step = (0.02 * this.radius) / size;
      const [ax, ay] = this.project(held.place);
      const moved = held.place.map((x, i) => x + step * held.along[i]);
      const [bx, by] = this.project(moved);
      let [sx, sy] = [(bx - ax) / step, (by - ay) / step];
      const least = LEAST * size * this.perMetre();
      const length = Math.hypot(sx, sy);
      if (length < 1e-9) return [0, -least];
      const grow = Math.max(1, least / length);
      return [sx * grow, sy * grow];
    },
    perMetre() {
      const distance = this.camera.position.distanceTo(this.center);
      return this.$el.clientHeight / (2 * distance * Math.tan((this.camera.fov * Math.PI) / 360));
    },
    pull(event, key) {
      const held = this.knobs.get(key), grip = held.grip;
      if (!grip) return;
      const [sx, sy] = grip.slope, dx = event.clientX - grip.x, dy = event.clientY - grip.y;
      const wanted = grip.from + (dx * sx + dy * sy) / (sx * sx + sy * sy);
      const value = Math.round(wanted / held.step) * held.step;
      if (value === held.pulled) return;
      held.pulled = value;
      this.draw();
      this.ask(key, value, grip.stroke);
    },
    release(key) {
      const held = this.knobs.get(key);
      if (held.pulled !== undefined) this.ask(key, held.pulled, held.grip.stroke);
      held.grip = undefined;
      held.pulled = undefined;
      this.draw();
    },
    nudge(event, key) {
      const held = this.knobs.get(key);
      const steps = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 10, PageDown: -10 }[event.key];
      if (steps === undefined || event.ctrlKey || event.metaKey) return;
      event.preventDefault();
      const from = this.waiting || this.next ? held.asked ?? held.value : held.value;
      this.ask(key, (Math.round(from / held.step) + steps) * held.step, `keys ${++this.stroke}`);
    },
    // One question at a time; what is asked meanwhile waits, and the last one counts.
    ask(key, value, stroke) {
      this.knobs.get(key).asked = value;
      const question = { key, value, stroke };
      if (this.waiting) this.next = question;
      else this.send(question);
    },
    send(question) {
      this.waiting = { ...question, number: ++this.sent, at: performance.now() };
      this.$emit("turn", { ...question, number: this.sent });
    },
    // Called once the figures of a question have arrived in the page.
    async answered(number) {
      await this.$nextTick();
      if (!this.waiting || number !== this.waiting.number) return;
      this.times.push(performance.now() - this.waiting.at);
      this.waiting = null;
      const next = this.next;
      this.next = null;
      if (next) this.send(next);
    },
    look(name) {
      const box = new THREE.Box3().setFromObject(this.parts);
      for (const held of this.knobs.values()) box.expandByPoint(place(held.place));
      box.getCenter(this.center);
      this.radius = box.getSize(new THREE.Vector3()).length() / 2;
      const wide = Math.min(1, this.camera.aspect || 1);
      const away = (1.02 * this.radius) / Math.sin((this.camera.fov * Math.PI) / 360) / wide;
      const towards = new THREE.Vector3(...VIEWS[name]).normalize();
      this.camera.position.copy(this.center).addScaledVector(towards, away);
      this.controls.target.copy(this.center);
      this.controls.update();
      this.draw();
    },
    turn(event) {
      const turns = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, -0.1], ArrowDown: [0, 0.1] }[event.key];
      const nearer = { "+": 0.9, "-": 1.11 }[event.key];
      if (!turns && !nearer) return;
      event.preventDefault();
      const from = this.camera.position.clone().sub(this.controls.target);
      const ball = new THREE.Spherical().setFromVector3(new THREE.Vector3(from.x, from.z, -from.y));
      if (turns) {
        ball.theta += turns[0];
        ball.phi = Math.min(Math.max(ball.phi + turns[1], 0.01), Math.PI - 0.01);
      } else ball.radius *= nearer;
      const to = new THREE.Vector3().setFromSpherical(ball);
      this.camera.position.copy(this.controls.target).add(new THREE.Vector3(to.x, -to.z, to.y));
      this.controls.update();
      this.draw();
    },
    resize() {
      const { clientWidth: width, clientHeight: height } = this.$el;
      if (!width || !height) return;
      const first = this.camera.aspect === 1;
      this.camera.aspect = width / height;
      this.camera.updateProjectionMatrix();
      this.renderer?.setSize(width, height, false);
      if (first && this.radius) this.look("quarter");
      else this.draw();
    },
    project(point) {
      const seen = place(point).project(this.camera);
      return [((seen.x + 1) / 2) * this.$el.clientWidth, ((1 - seen.y) / 2) * this.$el.clientHeight];
    },
    draw() {
      if (this.drawing) return;
      this.drawing = requestAnimationFrame(() => {
        this.drawing = null;
        this.camera.updateMatrixWorld();
        this.renderer?.render(this.scene, this.camera);
        const knobs = [...this.knobs.values()];
        for (const held of knobs) {
          const ahead = (held.pulled ?? held.value) - held.value;
          const [x, y] = this.project(held.place.map((p, i) => p + ahead * held.along[i]));
          held.at = [x, y];
          held.button.style.transform = `translate(${x}px, ${y}px)`;
        }
        this.label_all(knobs);
      });
    },
    // A label beside each handle, off the others and off all handles; a line leads to one that lies away.
    label_all(knobs) {
      const { clientWidth: width, clientHeight: height } = this.$el;
      const taken = knobs.map(({ at: [x, y] }) => [x - 10, y - 10, x + 10, y + 10]);
      let leaders = "";
      for (const { at: [x, y], button } of [...knobs].sort((a, b) => a.at[1] - b.at[1])) {
        const words = button.lastChild, wide = words.offsetWidth, high = words.offsetHeight;
        let best = null;
        for (let away = 0; away < height && !best; away += 5)
          for (const [aside, up] of away ? [[14, -away], [14, away], [24 + away, 0], [24 + away, -away / 2]] : [[14, 0]])
            for (const left of [x > width / 2, x <= width / 2]) {
              const from = left ? x - aside - wide : x + aside, top = y + up - high / 2;
              const box = [from, top, from + wide, top + high];
              const inside = from >= 2 && top >= 2 && box[2] <= width - 2 && box[3] <= height - 2;
              if (best || !inside || taken.some((t) => box[0] < t[2] && box[2] > t[0] && box[1] < t[3] && box[3] > t[1])) continue;
              best = box;
              if (away > 10) leaders += `M${x} ${y}L${left ? box[2] : from} ${y + up}`;
            }
        best ??= [Math.min(Math.max(x + 14, 0), width - wide), y - high / 2, 0, 0];
        taken.push(best);
        words.style.transform = `translate(${best[0] - x + 13}px, ${best[1] - y + 13}px)`;
      }
      this.$refs.leaders.setAttribute("d", leaders);
    },
  },
};
