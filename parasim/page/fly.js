// The stage of a drop flown by hand: the vehicle over the ground, seen from where the pilot stands or from behind.
// The browser only watches the clock and the hands, and draws: each tick asks the server, which flies, for the next pose.
import { THREE } from "nicegui-scene";
import { Parts, lights, place } from "parasim-parts";

const KEYS = { arrowleft: "left", f: "left", arrowright: "right", j: "right", arrowdown: "both", b: "both" };
const ACTS = { r: "release", p: "pause", s: "slow", v: "view" };
const WIDEST = 45, NARROWEST = 4; // field of view from the ground: it follows as through field glasses [deg]
const DEAD = 0.08; // of a stick around its middle
const LATE = 1000; // after which an answer is no longer waited for [ms]

const turn = (q) => new THREE.Quaternion(q[1], -q[2], -q[3], q[0]);

function disc(radius, color, up) {
  const found = new THREE.Mesh(new THREE.CircleGeometry(radius, 32), new THREE.MeshBasicMaterial({ color }));
  found.position.z = up;
  return found;
}

export default {
  template: `
    <div class="stage" role="group" :aria-label="label">
      <canvas ref="canvas"></canvas>
      <button v-for="side in ['left', 'right']" :key="side" type="button" :class="'pad ' + side" @pointerdown="grip(side, $event)"
        @pointerup="held[side] = false" @pointercancel="held[side] = false" @contextmenu.prevent>{{ side }} brake</button>
      <div class="map" aria-hidden="true">
        <svg viewBox="-50 -50 100 100"><rect x="-49" y="-49" width="98" height="98" class="rim"/><path ref="path" class="way"/>
          <path d="M-3 0H3M0 -3V3" class="line"/><circle ref="goal" class="goal" r="3" visibility="hidden"/>
          <path ref="ship" d="M0 -7L4.5 5L0 2.5L-4.5 5z"/><g transform="translate(-36 -36)"><path ref="vane" class="line" stroke-width="2" d="M0 10V-10M-4 -4L0 -10L4 -4"/></g>
          <text x="46" y="-38" text-anchor="end">N up</text></svg>
        <p>wind {{ wind }}</p><p>map {{ far }} wide, + release</p>
      </div>
      <p ref="without" class="without" hidden>No picture: this browser shows no WebGL. The figures work without it.</p>
    </div>`,
  props: { label: String },
  data: () => ({ wind: "", far: "" }),
  mounted() {
    this.trail = [];
    this.held = {};
    this.moving = false;
    this.chase = false;
    this.sticks = null;
    this.waiting = 0;
    this.ticks = 0;
    this.scene = new THREE.Scene();
    this.scene.background = new THREE.Color(0xe4eef6);
    this.scene.add(...lights());
    this.camera = new THREE.PerspectiveCamera(WIDEST, 1, 0.05, 50000);
    this.camera.up.set(0, 0, 1);
    this.canopy = new Parts();
    this.payload = new Parts();
    this.marks = new Parts();
    this.scene.add(this.canopy, this.payload, this.marks);
    try {
      this.renderer = new THREE.WebGLRenderer({ canvas: this.$refs.canvas, antialias: true });
      this.renderer.setPixelRatio(Math.min(window.devicePixelRatio, 2));
    } catch {
      this.$refs.without.hidden = false;
    }
    this.watching = new ResizeObserver(() => this.resize());
    this.watching.observe(this.$el);
    this.down = (event) => this.press(event);
    this.up = (event) => this.let(event);
    this.away = () => (this.held = {});
    window.addEventListener("keydown", this.down);
    window.addEventListener("keyup", this.up);
    window.addEventListener("blur", this.away);
    this.last = performance.now();
    this.frame = requestAnimationFrame((now) => this.tick(now));
    this.starting = setInterval(() => {
      if (!window.socket?.id) return;
      clearInterval(this.starting);
      this.$emit("ready");
    }, 10);
  },
  unmounted() {
    clearInterval(this.starting);
    cancelAnimationFrame(this.frame);
    window.removeEventListener("keydown", this.down);
    window.removeEventListener("keyup", this.up);
    window.removeEventListener("blur", this.away);
    this.watching.disconnect();
    this.renderer?.dispose();
  },
  methods: {
    press(event) {
      if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest?.("input, select, textarea")) return;
      const key = event.key.toLowerCase();
      if (KEYS[key]) {
        this.held[KEYS[key]] = true;
        this.sticks = null;
        event.preventDefault();
      } else if (ACTS[key] && !event.repeat) this.act(ACTS[key]);
    },
    let(event) {
      const key = event.key.toLowerCase();
      if (KEYS[key]) this.held[KEYS[key]] = false;
    },
    grip(side, event) {
      event.preventDefault();
      event.target.setPointerCapture(event.pointerId);
      this.held[side] = true;
      this.sticks = null;
    },
    act(name) {
      if (name === "view") this.view();
      else this.$emit("act", name);
    },
    view() {
      this.chase = !this.chase;
      this.draw();
      this.$emit("act", this.chase ? "chase" : "ground");
    },
    // A stick pulled towards oneself pulls its brake; the right lower button lets go.
    pads() {
      const pad = [...(navigator.getGamepads?.() ?? [])].find((each) => each?.connected && each.axes.length >= 4);
      if (!pad) return;
      const pulled = [pad.axes[1], pad.axes[3]].map((axis) => Math.min(Math.max((axis - DEAD) / (1 - DEAD), 0), 1));
      if (this.sticks || Math.max(...pulled) > 0) this.sticks = pulled;
      const pressed = Boolean(pad.buttons[0]?.pressed);
      if (pressed && !this.pressed) this.act("release");
      this.pressed = pressed;
    },
    tick(now) {
      this.frame = requestAnimationFrame((later) => this.tick(later));
      if (!this.moving || document.body.classList.contains("stopped")) {
        this.last = now;
        this.pads();
        return;
      }
      if (this.waiting && now - this.waiting < LATE) return;
      this.pads();
      const seconds = Math.max(now - this.last, 0) / 1000;
      this.last = now;
      this.waiting = now;
      const { left = false, right = false, both = false } = this.held;
      this.$emit("tick", { seconds, left, right, both, sticks: this.sticks });
    },
    // Set the stage: the vehicle (Scene.document in Python), and what lies on the ground.
    show(scene, ground) {
      this.canopy.canopy(scene);
      this.payload.box(scene.payload_box);
      this.hooks = scene.hooks.map(place);
      this.ends = scene.risers.map((pair) => place(pair[1]));
      this.marks.segments("risers", scene.risers.flat(), 0x111111);
      this.risers = this.marks.getObjectByName("risers");
      this.risers.frustumCulled = false;
      this.size = new THREE.Box3().setFromObject(this.canopy).getSize(new THREE.Vector3()).length();
      this.shadow = disc(this.size / 3, 0x8a8f84, 0.03);
      this.marks.add(this.shadow);
      this.blows(ground.wind);
      this.field(ground);
      this.pilot = place(ground.pilot).setZ(ground.eyes);
      this.ground = ground;
    },
    // The wind where it flies, in words and as an arrow that points where it blows.
    blow(words, north, east) {
      this.wind = words;
      this.$refs.vane.setAttribute("visibility", north || east ? "visible" : "hidden");
      this.$refs.vane.setAttribute("transform", `rotate(${(Math.atan2(east, north) * 180) / Math.PI})`);
    },
    // The map, north up, the point under the release in its middle: where it is and heads, its way, the target.
    map() {
      const east = -this.canopy.position.y, north = this.canopy.position.x, target = this.ground.target;
      const most = Math.max(...[east, north, ...(target ?? [])].map(Math.abs)), { maps, far } = this.ground;
      const held = maps.findIndex((size) => size > 2.2 * most), k = held < 0 ? maps.length - 1 : held, scale = 100 / maps[k];
      this.far = far[k];
      const put = (e, n) => `${(scale * e).toFixed(2)} ${(-scale * n).toFixed(2)}`;
      const last = this.trail[this.trail.length - 1];
      if (!last || Math.hypot(last[0] - east, last[1] - north) > 1) this.trail.push([east, north]);
      this.$refs.path.setAttribute("d", `M${this.trail.map(([e, n]) => put(e, n)).join("L")}`);
      const heading = (Math.atan2(-this.ahead.y, this.ahead.x) * 180) / Math.PI;
      this.$refs.ship.setAttribute("transform", `translate(${put(east, north)}) rotate(${heading})`);
      if (!target) return;
      this.$refs.goal.setAttribute("visibility", "visible");
      this.$refs.goal.setAttribute("transform", `translate(${put(target[1], target[0])})`);
    },
    // An arrow that lies on the ground and points where the wind blows; none in a calm.
    blows(wind) {
      const shape = [[-1, 0, 0], [1, 0, 0], [1, 0, 0], [0.5, 0.3, 0], [1, 0, 0], [0.5, -0.3, 0]];
      this.marks.segments("arrow", shape, 0x111111);
      this.arrow = this.marks.getObjectByName("arrow");
      this.arrow.visible = Math.hypot(wind[0], wind[1]) > 0;
      this.arrow.rotation.z = -Math.atan2(wind[1], wind[0]);
      this.arrow.scale.setScalar(0.6 * this.size);
    },
    // Grass, a grid of five metres, the point under the release, and rings around the target.
    field(ground) {
      const wide = ground.reach;
      const grass = disc(30 * wide, 0xcfd9c4, -0.02);
      const lines = new THREE.GridHelper(2 * wide, Math.round(wide / 2.5), 0x6f7a66, 0x98a28c);
      lines.rotation.x = Math.PI / 2;
      this.marks.add(grass, lines);
      this.marks.segments("under the release", [[-1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 1, 0]], 0x333333);
      if (!ground.target) return;
      const rings = [];
      for (const radius of [1, ground.near])
        for (let i = 0; i < 64; i++)
          for (const k of [i, i + 1]) {
            const angle = (k * Math.PI) / 32;
            rings.push([radius * Math.cos(angle), radius * Math.sin(angle), -0.04]);
          }
      this.marks.segments("target", rings, 0xb5451b);
      this.marks.getObjectByName("target").position.copy(place(ground.target));
    },
    // Draw a moment; `moving` says whether another is wanted.
    pose(now) {
      this.waiting = 0;
      this.ticks += 1;
      this.moving = now.moving;
      this.canopy.position.copy(place(now.place));
      this.canopy.quaternion.copy(turn(now.turn));
      this.payload.position.copy(place(now.foot));
      this.payload.quaternion.copy(turn(now.hung));
      this.ahead = new THREE.Vector3(1, 0, 0).applyQuaternion(this.canopy.quaternion);
      for (const group of [this.canopy, this.payload]) group.updateMatrixWorld();
      const at = this.risers.geometry.getAttribute("position");
      this.hooks.forEach((hook, i) => {
        const low = hook.clone().applyMatrix4(this.payload.matrixWorld);
        const high = this.ends[i].clone().applyMatrix4(this.canopy.matrixWorld);
        at.setXYZ(2 * i, low.x, low.y, low.z);
        at.setXYZ(2 * i + 1, high.x, high.y, high.z);
      });
      at.needsUpdate = true;
      this.shadow.position.x = this.canopy.position.x;
      this.shadow.position.y = this.canopy.position.y;
      this.arrow.position.set(this.shadow.position.x, this.shadow.position.y, 0.05);
      this.map();
      this.draw();
    },
    resize() {
      const { clientWidth: width, clientHeight: height } = this.$el;
      if (!width || !height) return;
      this.camera.aspect = width / height;
      this.renderer?.setSize(width, height, false);
      this.draw();
    },
    draw() {
      if (!this.hooks || !this.ahead) return;
      const middle = this.canopy.position.clone();
      middle.z += 0.3 * this.size;
      if (this.chase) {
        const back = this.ahead.clone().setZ(0).normalize().multiplyScalar(-1.5 * this.size);
        this.camera.position.copy(middle).add(back);
        this.camera.position.z = Math.max(middle.z + 0.4 * this.size, 0.3);
        this.camera.fov = WIDEST;
      } else {
        this.camera.position.copy(this.pilot);
        const away = middle.distanceTo(this.pilot);
        const fov = (2 * 180 * Math.atan((2.5 * this.size) / away)) / Math.PI;
        this.camera.fov = Math.min(Math.max(fov, NARROWEST), WIDEST);
      }
      this.camera.lookAt(middle);
      this.camera.updateProjectionMatrix();
      this.renderer?.render(this.scene, this.camera);
    },
  },
};
