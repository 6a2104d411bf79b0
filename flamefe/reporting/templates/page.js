"use strict";
(() => {
  const data = document.getElementById("model");
  const view = document.getElementById("view");
  if (!data || !view) return;
  const at = (id) => document.getElementById(id);
  const canvas = at("canvas");
  const model = JSON.parse(data.textContent);
  const frames = model.times.length;
  const nodes = model.nodes;

  addEventListener("beforeprint", () => {
    for (const one of document.querySelectorAll("details:not([open])")) {
      one.open = true;
      one.dataset.shut = "";
    }
  });
  addEventListener("afterprint", () => {
    for (const one of document.querySelectorAll("details[data-shut]")) one.open = false;
  });

  // what scrolls sideways can be reached by keys
  function reachable() {
    for (const one of document.querySelectorAll(".wide")) {
      if (one.scrollWidth > one.clientWidth + 1) one.tabIndex = 0;
      else one.removeAttribute("tabindex");
    }
  }
  addEventListener("load", reachable);
  addEventListener("resize", reachable);

  function without(reason) {
    view.dataset.state = reason;
    view.querySelector(".no-view").hidden = false;
  }

  function bytes(text) {
    const raw = atob(text);
    const made = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i++) made[i] = raw.charCodeAt(i);
    return made;
  }

  async function unpacked(text, Kind) {
    const stream = new Blob([bytes(text)]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Kind(await new Response(stream).arrayBuffer());
  }

  // numbers are kept as differences: from one to the next, or from frame to frame
  function added(values, from) {
    for (let i = from; i < values.length; i++) values[i] += values[i - from];
    return values;
  }

  async function start() {
    const probe = document.createElement("canvas").getContext("webgl2");
    if (!probe || typeof DecompressionStream === "undefined") return without("no-webgl");
    const lose = probe.getExtension("WEBGL_lose_context");
    if (lose) lose.loseContext();

    const [triangles, edges, packed, heat, moves] = await Promise.all([
      unpacked(model.triangles, Int32Array), unpacked(model.edges, Int32Array),
      unpacked(model.points, Uint16Array), unpacked(model.temperatures, Uint8Array),
      unpacked(model.moves, Int16Array),
    ]);
    const buckle = model.buckle ? added(await unpacked(model.buckle, Int16Array), 1) : null;
    added(triangles, 1);
    added(edges, 1);
    added(heat, nodes);
    added(moves, 3 * nodes);
    const fields = await Promise.all(model.fields.map((one) => unpacked(one.values, Uint8Array)));

    // lengths by the part's longest side, its middle at the origin
    const base = new Float32Array(3 * nodes);
    const middle = [0, 1, 2].map((axis) => {
      let high = 0;
      for (let i = axis; i < packed.length; i += 3) high = Math.max(high, packed[i]);
      return high / 2;
    });
    for (let i = 0; i < base.length; i++) base[i] = (packed[i] - middle[i % 3]) / 65535;

    const T = THREE;
    const renderer = new T.WebGLRenderer({ canvas, antialias: true, preserveDrawingBuffer: true });
    renderer.setClearColor(0xffffff, 1);
    const scene = new T.Scene();
    const where = new T.BufferAttribute(new Float32Array(base), 3);
    const tint = new T.BufferAttribute(new Float32Array(2 * nodes), 2);
    const skin = new T.BufferGeometry();
    skin.setAttribute("position", where);
    skin.setAttribute("uv", tint);
    skin.setIndex(new T.BufferAttribute(new Uint32Array(triangles), 1));
    const textures = {};
    for (const [name, table] of Object.entries(model.maps)) {
      const texture = new T.DataTexture(bytes(table), 256, 1);
      texture.colorSpace = T.SRGBColorSpace;
      texture.magFilter = texture.minFilter = T.LinearFilter;
      texture.needsUpdate = true;
      textures[name] = texture;
    }
    const cloth = new T.MeshLambertMaterial({
      map: textures.inferno, flatShading: true, side: T.DoubleSide,
      polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1,
    });
    const part = new T.Mesh(skin, cloth);
    part.frustumCulled = false;
    scene.add(part);
    const lines = (positions, colour) => {
      const shape = new T.BufferGeometry();
      shape.setAttribute("position", positions);
      shape.setIndex(new T.BufferAttribute(new Uint32Array(edges), 1));
      const made = new T.LineSegments(shape, new T.LineBasicMaterial({ color: colour }));
      made.frustumCulled = false;
      scene.add(made);
      return made;
    };
    lines(where, 0x6f757c);
    const old = new T.BufferAttribute(new Float32Array(base), 3);
    const before = lines(old, 0x9aa0a6);

    const camera = new T.OrthographicCamera(-1, 1, 1, -1, -20, 20);
    camera.up.set(0, 0, 1);
    scene.add(new T.AmbientLight(0xffffff, 2.5));
    const lamp = new T.DirectionalLight(0xffffff, 0.75);
    camera.add(lamp);
    lamp.position.set(0.3, 0.5, 1);
    scene.add(camera);
    const controls = new T.OrbitControls(camera, canvas);
    controls.enableZoom = false; // the wheel belongs to the page until the view is chosen
    canvas.addEventListener("focus", () => { controls.enableZoom = true; });
    canvas.addEventListener("blur", () => { controls.enableZoom = false; });
    canvas.addEventListener("pointerdown", () => canvas.focus({ preventScroll: true }));
    controls.addEventListener("change", () => soon());

    const step = model.largest_move / 2047 / model.size;
    const outlook = new T.Vector3(...model.towards).normalize();
    function fit() {
      const box = canvas.getBoundingClientRect();
      if (!box.width || !box.height) return;
      renderer.setPixelRatio(Math.min(devicePixelRatio || 1, 2));
      renderer.setSize(box.width, box.height, false);
      const right = new T.Vector3(0, 0, 1).cross(outlook).normalize();
      const up = outlook.clone().cross(right);
      let wide = 1e-6, high = 1e-6;
      const drawn = model.factors[0] * step;
      for (let i = 0; i < moves.length; i += 3) {
        const j = i % base.length;
        const [x, y, z] = [0, 1, 2].map((axis) =>
          base[j + axis] + drawn * (moves[i + axis] + (buckle ? buckle[j + axis] : 0)));
        wide = Math.max(wide, Math.abs(x * right.x + y * right.y + z * right.z));
        high = Math.max(high, Math.abs(x * up.x + y * up.y + z * up.z));
      }
      const aspect = box.width / box.height;
      const half = 1.1 * Math.max(high + 0.03, wide / aspect);
      camera.top = half;
      camera.bottom = -half;
      camera.left = -half * aspect;
      camera.right = half * aspect;
      camera.updateProjectionMatrix();
      soon();
    }
    function again() {
      controls.target.set(0, 0, 0);
      camera.position.copy(outlook).multiplyScalar(4);
      camera.zoom = 1;
      camera.updateProjectionMatrix();
      controls.update();
      soon();
    }
    function turn(aside, over) {
      const away = camera.position.clone().sub(controls.target);
      const far = away.length();
      const flat = Math.atan2(away.y, away.x) - aside;
      const tall = Math.min(Math.max(Math.acos(away.z / far) + over, 0.02), Math.PI - 0.02);
      away.set(Math.sin(tall) * Math.cos(flat), Math.sin(tall) * Math.sin(flat), Math.cos(tall));
      camera.position.copy(controls.target).addScaledVector(away, far);
      controls.update();
      soon();
    }
    function nearer(by) {
      camera.zoom = Math.min(Math.max(camera.zoom * by, 0.3), 40);
      camera.updateProjectionMatrix();
      soon();
    }

    // what is shown
    const time = at("time"), play = at("play"), moment = at("moment");
    const colours = at("colours"), shape = at("shape");
    time.max = frames - 1;
    at("times").hidden = frames < 2;
    const option = (list, value, words) => list.add(new Option(words, value));
    option(colours, "time", "temperature at the time, °C");
    model.fields.forEach((one, i) => option(colours, i, `${one.name}, ${one.unit}`));
    for (const factor of model.factors) {
      if (factor !== 1) option(shape, factor, `distortion drawn ${factor} times its size`);
    }
    option(shape, 1, "in true size");
    option(shape, 0, "as before the job");

    function show() {
      const frame = Number(time.value);
      const factor = Number(shape.value);
      const from = 3 * nodes * frame;
      const still = factor || 1; // a buckle before is drawn in its true size at least
      for (let i = 0; i < base.length; i++) {
        const start = base[i] + (buckle ? still * step * buckle[i] : 0);
        old.array[i] = start;
        where.array[i] = start + factor * step * moves[from + i];
      }
      old.needsUpdate = where.needsUpdate = true;
      before.visible = factor > 1;
      const fixed = colours.value === "time" ? null : Number(colours.value);
      for (let i = 0; i < nodes; i++) {
        const level = fixed === null ? heat[nodes * frame + i] : fields[fixed][i];
        tint.array[2 * i] = (level * (255 / 256)) / 255 + 0.5 / 256;
        tint.array[2 * i + 1] = 0.5;
      }
      tint.needsUpdate = true;
      const of = fixed === null
        ? { name: "temperature", unit: "°C", map: "inferno", low: model.coldest_C,
            high: model.hottest_C, low_words: model.coldest_C.toFixed(0),
            high_words: model.hottest_C.toFixed(0) }
        : model.fields[fixed];
      cloth.map = textures[of.map];
      at("scale-name").textContent = `${of.name}, ${of.unit}`;
      at("high").textContent = of.high_words;
      at("low").textContent = of.low_words;
      ramp(of);
      const words = `${model.times[frame].toPrecision(4).replace(/\.?0+$/, "")} s; hottest place ${model.hottest[frame].toFixed(0)} °C`;
      moment.textContent = words;
      time.setAttribute("aria-valuetext", words);
      view.dataset.frame = frame;
      soon();
    }
    const stack = matchMedia("(max-width: 40rem)");
    function ramp(of) {
      const table = bytes(model.maps[of.map]);
      const stops = [];
      for (let i = 0; i < 256; i += 15) stops.push(`rgb(${table[4 * i]},${table[4 * i + 1]},${table[4 * i + 2]})`);
      at("ramp").style.background = `linear-gradient(${stack.matches ? "to right" : "to top"},${stops.join(",")})`;
      const share = (model.limit_C - of.low) / (of.high - of.low);
      const hidden = of.unit !== "°C" || share <= 0.08 || share >= 0.92;
      const inside = of.unit === "°C" && share > 0 && share < 1;
      at("limit").hidden = !inside;
      at("limit-name").hidden = hidden;
      at("limit").style.bottom = stack.matches ? "" : `${100 * share}%`;
      at("limit").style.left = stack.matches ? `${100 * share}%` : "";
      at("limit-name").style.bottom = stack.matches ? "" : `${100 * share}%`;
      at("limit-name").textContent = `limit ${model.limit_C}`;
    }

    let asked = false;
    function soon() {
      if (asked) return;
      asked = true;
      requestAnimationFrame(() => {
        asked = false;
        renderer.render(scene, camera);
        view.dataset.drawn = Number(view.dataset.drawn || 0) + 1;
      });
    }

    let ticking = 0;
    function playing(on) {
      clearInterval(ticking);
      play.setAttribute("aria-pressed", String(on));
      play.textContent = on ? "Pause" : "Play";
      moment.setAttribute("aria-live", on ? "off" : "polite");
      if (!on) return;
      if (Number(time.value) === frames - 1) time.value = 0;
      ticking = setInterval(() => {
        time.value = Number(time.value) + 1;
        show();
        if (Number(time.value) === frames - 1) playing(false);
      }, 160);
    }
    play.addEventListener("click", () => playing(play.getAttribute("aria-pressed") !== "true"));
    time.addEventListener("input", () => { playing(false); show(); });
    shape.addEventListener("change", show);
    const hottest = model.hottest.indexOf(Math.max(...model.hottest));
    colours.addEventListener("change", () => {
      playing(false);
      time.value = colours.value === "time" ? hottest : frames - 1;
      show();
    });
    at("again").addEventListener("click", again);
    for (const button of view.querySelectorAll("[data-turn]")) {
      const [aside, over] = button.dataset.turn.split(",").map(Number);
      button.addEventListener("click", () => turn(0.26 * aside, 0.26 * over));
    }
    for (const button of view.querySelectorAll("[data-zoom]")) {
      button.addEventListener("click", () => nearer(Number(button.dataset.zoom)));
    }
    const keys = {
      ArrowLeft: () => turn(-0.13, 0), ArrowRight: () => turn(0.13, 0),
      ArrowUp: () => turn(0, -0.13), ArrowDown: () => turn(0, 0.13),
      "+": () => nearer(1.15), "=": () => nearer(1.15), "-": () => nearer(1 / 1.15), 0: again,
    };
    canvas.addEventListener("keydown", (event) => {
      if (event.ctrlKey || event.metaKey || event.altKey || !keys[event.key]) return;
      keys[event.key]();
      event.preventDefault();
    });
    addEventListener("resize", () => { fit(); show(); });

    view.querySelector(".live").hidden = false;
    view.dataset.state = "live";
    time.value = hottest;
    fit();
    again();
    show();
  }

  start().catch((problem) => {
    view.querySelector(".live").hidden = true;
    without("failed");
    view.dataset.problem = String(problem);
  });
})();
