// The cup in three dimensions. Its skin is a picture of the wall, degrees to the right and mm down, laid on a turned body.

const AROUND = 96;

const SEEN = `
  attribute vec3 spot; attribute vec3 normal; attribute vec2 skin;
  uniform float turn, tilt, middle; uniform vec2 scale;
  varying vec3 facing; varying vec2 on;
  vec3 seen(vec3 p) {
    p = vec3(p.x * cos(turn) - p.z * sin(turn), p.y, p.x * sin(turn) + p.z * cos(turn));
    return vec3(p.x, p.y * cos(tilt) - p.z * sin(tilt), p.y * sin(tilt) + p.z * cos(tilt));
  }
  void main() {
    vec3 p = seen(spot - vec3(0.0, middle, 0.0));
    facing = seen(normal);
    on = skin;
    gl_Position = vec4(p.xy * scale, -p.z / 4000.0, 1.0);
  }`;

const PAINT = `
  precision highp float;
  uniform sampler2D picture; uniform vec4 plain;
  varying vec3 facing; varying vec2 on;
  void main() {
    vec3 own = mix(texture2D(picture, on).rgb, plain.rgb, plain.a);
    float light = 0.62 + 0.38 * max(0.0, dot(normalize(facing), normalize(vec3(-0.45, 0.35, 0.82))));
    gl_FragColor = vec4(own * light, 1.0);
  }`;

// where on the skin a pixel lies: two bytes for each way, 0 where there is none
const WHERE = `
  precision highp float;
  varying vec3 facing; varying vec2 on;
  void main() {
    vec2 place = floor(clamp(on, 0.0, 1.0) * 65534.0 + 0.5) + 1.0;
    vec2 high = floor(place / 256.0);
    gl_FragColor = vec4(high.x, place.x - 256.0 * high.x, high.y, place.y - 256.0 * high.y) / 255.0;
  }`;

function program(gl, vertex, fragment) {
  const made = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, fragment]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    if (!gl.getShaderParameter(shader, gl.COMPILE_STATUS)) throw new Error(gl.getShaderInfoLog(shader));
    gl.attachShader(made, shader);
  }
  ["spot", "normal", "skin"].forEach((name, number) => gl.bindAttribLocation(made, number, name));
  gl.linkProgram(made);
  if (!gl.getProgramParameter(made, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(made));
  return made;
}

// Rings of vertices down the wall, two rings where it bends, as [spot, normal, skin] of eight numbers.
function body(look) {
  const vertices = [], triangles = [], longest = look.wall[look.wall.length - 1].slice(-1)[0][0];
  for (const section of look.wall) {
    section.forEach(([down, radius, drop], row) => {
      const [d0, r0, y0] = section[Math.max(0, row - 1)], [d1, r1, y1] = section[Math.min(section.length - 1, row + 1)];
      const long = Math.max(d1 - d0, 1e-9), out = (y1 - y0) / long, up = (r1 - r0) / long;
      for (let step = 0; step <= AROUND; step++) {
        const a = 2 * Math.PI * step / AROUND, sin = Math.sin(a), cos = Math.cos(a);
        vertices.push(radius * sin, -drop, radius * cos, out * sin, up, out * cos, step / AROUND, down / longest);
        if (row && step) {
          const at = vertices.length / 8 - 1, over = at - AROUND - 1;
          triangles.push(over - 1, at - 1, over, over, at - 1, at);
        }
      }
    });
  }
  return { vertices: new Float32Array(vertices), triangles: new Uint16Array(triangles) };
}

function foot(look) {
  const [, radius, drop] = look.wall[look.wall.length - 1].slice(-1)[0];
  const vertices = [0, -drop, 0, 0, -1, 0, 0, 1], triangles = [];
  for (let step = 0; step <= AROUND; step++) {
    const a = 2 * Math.PI * step / AROUND;
    vertices.push(radius * Math.sin(a), -drop, radius * Math.cos(a), 0, -1, 0, 0, 1);
    if (step) triangles.push(0, step + 1, step);
  }
  return { vertices: new Float32Array(vertices), triangles: new Uint16Array(triangles) };
}

class Cup {
  constructor(canvas) {
    this.canvas = canvas;
    const gl = this.gl = canvas.getContext("webgl", { antialias: true, preserveDrawingBuffer: true, alpha: true });
    if (!gl) return;
    this.paint = program(gl, SEEN, PAINT);
    this.where = program(gl, SEEN, WHERE);
    this.skin = document.createElement("canvas");
    this.skin.width = Math.min(4096, gl.getParameter(gl.MAX_TEXTURE_SIZE));
    this.skin.height = this.skin.width / 2;
    this.texture = gl.createTexture();
    const one = this.one = gl.createFramebuffer(), store = gl.createTexture(), depth = gl.createRenderbuffer();
    gl.bindTexture(gl.TEXTURE_2D, store);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, 1, 1, 0, gl.RGBA, gl.UNSIGNED_BYTE, null);
    gl.bindFramebuffer(gl.FRAMEBUFFER, one);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, store, 0);
    gl.bindRenderbuffer(gl.RENDERBUFFER, depth);
    gl.renderbufferStorage(gl.RENDERBUFFER, gl.DEPTH_COMPONENT16, 1, 1);
    gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.RENDERBUFFER, depth);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.enable(gl.DEPTH_TEST);
    gl.enable(gl.CULL_FACE);
  }

  show(look) {
    this.look = look;
    const end = look.wall[look.wall.length - 1].slice(-1)[0];
    [this.long, , this.tall] = end;
    this.broad = Math.max(...look.wall.flat().map(([, radius]) => radius));
    this.paths = look.strips.map((strip) => new Path2D(strip.path));
    const gl = this.gl;
    if (!gl) return;
    for (const { vertices, triangles } of this.parts || []) [vertices, triangles].forEach((held) => gl.deleteBuffer(held));
    this.parts = [body(look), foot(look)].map(({ vertices, triangles }) => {
      const held = { vertices: gl.createBuffer(), triangles: gl.createBuffer(), count: triangles.length };
      gl.bindBuffer(gl.ARRAY_BUFFER, held.vertices);
      gl.bufferData(gl.ARRAY_BUFFER, vertices, gl.STATIC_DRAW);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, held.triangles);
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, triangles, gl.STATIC_DRAW);
      return held;
    });
    this.cover(null);
  }

  // Paints the skin: the bare wall, what is printed on it, the strips; all but the lit one pale.
  cover(lit) {
    if (!this.gl) return;
    const { skin, look } = this, ink = skin.getContext("2d");
    const onto = new DOMMatrix([skin.width / 360, 0, 0, skin.height / this.long, 0, 0]);
    const moved = (path) => { const made = new Path2D(); made.addPath(path, onto); return made; };
    ink.globalAlpha = 1;
    ink.fillStyle = look.colour;
    ink.fillRect(0, 0, skin.width, skin.height);
    for (const panel of look.panels) this.panel(ink, panel, onto);
    ink.lineWidth = 2;
    ink.strokeStyle = look.ink;
    for (const keepout of look.keepouts) { ink.setLineDash([14, 10]); ink.stroke(moved(new Path2D(keepout))); }
    ink.setLineDash([]);
    const order = look.strips.map((_, number) => number).filter((number) => number !== lit);
    if (lit !== null) order.push(lit);
    for (const number of order) {
      ink.globalAlpha = lit === null || number === lit ? 1 : 0.25;
      const path = moved(this.paths[number]);
      ink.fillStyle = look.strips[number].colour;
      ink.fill(path, "evenodd");
      ink.strokeStyle = number === lit ? "#d3281c" : look.strips[number].edge;
      ink.lineWidth = number === lit ? 5 : 1.5;
      ink.stroke(path);
    }
    const gl = this.gl;
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA, gl.RGBA, gl.UNSIGNED_BYTE, skin);
    gl.generateMipmap(gl.TEXTURE_2D);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR_MIPMAP_LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
    const fine = gl.getExtension("EXT_texture_filter_anisotropic");
    if (fine) gl.texParameterf(gl.TEXTURE_2D, fine.TEXTURE_MAX_ANISOTROPY_EXT, 8);
  }

  // A printed panel: its colour, and its picture drawn out between its sides, band by band where they lean.
  panel(ink, panel, onto) {
    ink.save();
    ink.setTransform(onto);
    for (const turn of [-360, 0, 360]) {
      for (let row = 0; row + 1 < panel.rows.length; row++) {
        const [d0, a0, b0] = panel.rows[row], [d1, a1, b1] = panel.rows[row + 1];
        ink.beginPath();
        ink.moveTo(a0 + turn, d0); ink.lineTo(b0 + turn, d0); ink.lineTo(b1 + turn, d1 + 0.05); ink.lineTo(a1 + turn, d1 + 0.05);
        ink.closePath();
        if (panel.colour) { ink.fillStyle = panel.colour; ink.fill(); }
        const art = panel.art;
        if (!art) continue;
        const [top, foot] = [panel.rows[0][0], panel.rows[panel.rows.length - 1][0]];
        const y0 = (d0 - top) / (foot - top) * art.height, y1 = (d1 - top) / (foot - top) * art.height;
        const left = (a0 + a1) / 2, right = (b0 + b1) / 2;
        ink.drawImage(art, 0, y0, art.width, y1 - y0, left + turn, d0, right - left, d1 - d0 + 0.05);
      }
    }
    ink.restore();
  }

  scale(width, height) {
    const tilt = state.tilt * Math.PI / 180;
    const high = this.tall * Math.cos(tilt) + 2 * this.broad * Math.abs(Math.sin(tilt));
    const fit = 0.94 * Math.min(width / (2 * this.broad), height / high);
    return [2 * fit / width, 2 * fit / height];
  }

  pass(code, width, height, left, foot) {
    const gl = this.gl;
    gl.useProgram(code);
    gl.viewport(left, foot, width, height);
    const set = (name, ...values) => gl[`uniform${values.length}f`](gl.getUniformLocation(code, name), ...values);
    set("turn", state.turn * Math.PI / 180);
    set("tilt", state.tilt * Math.PI / 180);
    set("middle", -this.tall / 2);
    set("scale", ...this.scale(width, height));
    return set;
  }

  draw(part) {
    const gl = this.gl;
    gl.bindBuffer(gl.ARRAY_BUFFER, part.vertices);
    [[0, 3, 0], [1, 3, 12], [2, 2, 24]].forEach(([number, size, from]) => {
      gl.enableVertexAttribArray(number);
      gl.vertexAttribPointer(number, size, gl.FLOAT, false, 32, from);
    });
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, part.triangles);
    gl.drawElements(gl.TRIANGLES, part.count, gl.UNSIGNED_SHORT, 0);
  }

  redraw() {
    const { gl, canvas } = this;
    if (!gl || !this.parts) return;
    const dense = Math.min(window.devicePixelRatio || 1, 2);
    const [width, height] = [canvas.clientWidth, canvas.clientHeight].map((side) => Math.max(1, Math.round(side * dense)));
    if (canvas.width !== width || canvas.height !== height) [canvas.width, canvas.height] = [width, height];
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.bindTexture(gl.TEXTURE_2D, this.texture);
    const set = this.pass(this.paint, width, height, 0, 0);
    gl.cullFace(gl.FRONT);
    set("plain", ...this.look.inside, 1);
    this.parts.forEach((part) => this.draw(part));
    gl.cullFace(gl.BACK);
    this.draw(this.parts[1]);
    set("plain", 0, 0, 0, 0);
    this.draw(this.parts[0]);
  }

  // The place under a point of the canvas, [degrees, mm down]; null beside the cup.
  at(x, y) {
    const { gl, canvas } = this;
    if (!gl || !this.parts) return null;
    const { width, height } = canvas, dense = width / canvas.clientWidth;
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.one);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    this.pass(this.where, width, height, -Math.round(x * dense), -Math.round(height - 1 - y * dense));
    gl.cullFace(gl.BACK);
    this.draw(this.parts[1]);
    this.draw(this.parts[0]);
    const found = new Uint8Array(4);
    gl.readPixels(0, 0, 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, found);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    const [u, v] = [256 * found[0] + found[1], 256 * found[2] + found[3]].map((place) => (place - 1) / 65534);
    return u < 0 || v >= 1 ? null : [360 * u, this.long * v];
  }

  // The topmost strip at a place; null if there is none.
  strip(place) {
    if (!place) return null;
    const ink = this.skin.getContext("2d");
    ink.save();
    ink.resetTransform();
    let found = null;
    this.paths.forEach((path, number) => { if (ink.isPointInPath(path, ...place, "evenodd")) found = number; });
    ink.restore();
    return found;
  }
}
