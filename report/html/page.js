(function () {
  "use strict";

  // Wipe: a range input moves the border between two pictures of one camera.
  function wipe(box) {
    var control = box.nextElementSibling, range = control.querySelector("input");
    var bar = box.querySelector(".bar");
    box.classList.add("on");
    control.hidden = false;
    bar.hidden = false;
    function set(v) {
      v = Math.max(0, Math.min(100, v));
      box.style.setProperty("--cut", v + "%");
      range.value = v;
    }
    range.addEventListener("input", function () { set(+range.value); });
    function drag(e) {
      var r = box.getBoundingClientRect();
      set(100 * (e.clientX - r.left) / r.width);
    }
    box.addEventListener("pointerdown", function (e) {
      if (e.target.tagName === "A") return;
      box.setPointerCapture(e.pointerId);
      drag(e);
      e.preventDefault();
    });
    box.addEventListener("pointermove", function (e) {
      if (box.hasPointerCapture(e.pointerId)) drag(e);
    });
    set(50);
  }
  Array.prototype.forEach.call(document.querySelectorAll(".wipe"), wipe);

  // Tables behind charts are opened for print.
  window.addEventListener("beforeprint", function () {
    Array.prototype.forEach.call(document.querySelectorAll("details"), function (d) { d.open = true; });
  });

  var section = document.getElementById("turn");
  if (section) turntable(section);

  function turntable(section) {
    var meta = JSON.parse(document.getElementById("turn-meta").textContent);
    var text = document.getElementById("turn-data").textContent.trim();
    var raw = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    var bytes = new Uint8Array(raw.length);
    for (var i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
    var view = new DataView(bytes.buffer), at = 0;
    function take(n, size, get) {
      var a = new Array(n);
      for (var i = 0; i < n; i++, at += size) a[i] = get.call(view, at, true);
      return a;
    }
    var meshes = meta.meshes.map(function (m) {
      var p = take(3 * m.v, 2, view.getUint16), d = take(3 * m.v, 2, view.getInt16);
      var mesh = { v: m.v, f: m.f, base: new Float32Array(3 * m.v), move: new Float32Array(3 * m.v) };
      for (var i = 0; i < 3 * m.v; i++) {
        mesh.base[i] = m.origin[i % 3] + m.step * p[i];
        mesh.move[i] = meta.grow_mm * d[i] / 32767;
      }
      mesh.index = Uint16Array.from(take(3 * m.f, 2, view.getUint16));
      mesh.skin = bytes.slice(at, at + m.f); at += m.f;
      mesh.value = bytes.slice(at, at + 3 * m.f); at += 3 * m.f;
      mesh.normal = normals(mesh);
      return mesh;
    });

    // Corner normals: the mean over the facets of a vertex that are not across a sharp edge.
    function normals(m) {
      var flat = new Float32Array(3 * m.f), around = [], out = new Float32Array(9 * m.f), p = m.base, ix = m.index;
      for (var v = 0; v < m.v; v++) around.push([]);
      for (var f = 0; f < m.f; f++) {
        var a = 3 * ix[3 * f], b = 3 * ix[3 * f + 1], c = 3 * ix[3 * f + 2];
        var ux = p[b] - p[a], uy = p[b + 1] - p[a + 1], uz = p[b + 2] - p[a + 2];
        var wx = p[c] - p[a], wy = p[c + 1] - p[a + 1], wz = p[c + 2] - p[a + 2];
        flat[3 * f] = uy * wz - uz * wy; flat[3 * f + 1] = uz * wx - ux * wz; flat[3 * f + 2] = ux * wy - uy * wx;
        for (var k = 0; k < 3; k++) around[ix[3 * f + k]].push(f);
      }
      for (f = 0; f < m.f; f++) {
        var nx = flat[3 * f], ny = flat[3 * f + 1], nz = flat[3 * f + 2], ln = Math.hypot(nx, ny, nz);
        for (k = 0; k < 3; k++) {
          var sx = 0, sy = 0, sz = 0, list = around[ix[3 * f + k]];
          for (var j = 0; j < list.length && list.length <= 64; j++) {
            var g = 3 * list[j], ox = flat[g], oy = flat[g + 1], oz = flat[g + 2];
            if (nx * ox + ny * oy + nz * oz >= 0.77 * ln * Math.hypot(ox, oy, oz)) { sx += ox; sy += oy; sz += oz; }
          }
          var l = Math.hypot(sx, sy, sz);
          if (!l) { sx = nx; sy = ny; sz = nz; l = ln || 1; }
          var o = 9 * f + 3 * k;
          out[o] = sx / l; out[o + 1] = sy / l; out[o + 2] = sz / l;
        }
      }
      return out;
    }

    // Colours in linear light, as everywhere in the report.
    function linear(v) { v /= 255; return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4); }
    function colour(hex) { return [0, 2, 4].map(function (i) { return linear(parseInt(hex.substr(i, 2), 16)); }); }
    var scale = meta.scale.map(colour);
    var skins = meta.skins.map(function (s) { return { c: colour(s.colour), ink: colour(s.ink), text: s.letter + " " + s.name }; });
    var encode = new Uint8ClampedArray(4096);
    for (i = 0; i < 4096; i++) {
      var x = i / 4095;
      encode[i] = 255 * (x <= 0.0031308 ? 12.92 * x : 1.055 * Math.pow(x, 1 / 2.4) - 0.055) + 0.5;
    }

    var canvas = document.getElementById("turn-canvas"), show = document.getElementById("turn-show");
    var grow = document.getElementById("turn-grow"), growText = document.getElementById("turn-grow-text");
    var out = document.getElementById("turn-out");
    if (!meta.shared) document.getElementById("turn-grow-label").hidden = true;
    section.hidden = false;

    var lo = [Infinity, Infinity, Infinity], hi = [-Infinity, -Infinity, -Infinity];
    meshes.forEach(function (m) {
      for (var i = 0; i < 3 * m.v; i++) { lo[i % 3] = Math.min(lo[i % 3], m.base[i]); hi[i % 3] = Math.max(hi[i % 3], m.base[i]); }
    });
    var mid = [0, 1, 2].map(function (k) { return (lo[k] + hi[k]) / 2; });
    var size = Math.hypot(hi[0] - lo[0], hi[1] - lo[1], hi[2] - lo[2]) || 1;

    var start = { az: 35, el: 30, zoom: 1.1, x: 0, y: 0 };
    var cam = Object.assign({}, start);
    var w = 0, h = 0, ctx = canvas.getContext("2d"), image, depth, ids, shade, value, waiting = false;

    function resize() {
      var css = Math.max(240, canvas.clientWidth), ratio = Math.min(2, window.devicePixelRatio || 1);
      w = Math.round(css * ratio); h = Math.round(Math.min(css * 0.62, 640) * ratio);
      canvas.width = w; canvas.height = h;
      canvas.style.height = Math.round(h / ratio) + "px";
      image = ctx.createImageData(w, h);
      depth = new Float32Array(w * h); ids = new Int32Array(w * h);
      shade = new Float32Array(w * h); value = new Float32Array(w * h);
      later();
    }
    function later() {
      if (waiting) return;
      waiting = true;
      requestAnimationFrame(function () { waiting = false; draw(); });
    }
    function current() { return meshes[meta.shared || show.value === "skins" ? 0 : 1]; }

    function draw() {
      var m = current(), after = show.value === "allowance";
      var times = meta.shared && after ? +grow.value : 0;
      var a = cam.az * Math.PI / 180, e = cam.el * Math.PI / 180;
      // Axes of the picture in the part's axes: right, back, up.
      var r = [Math.cos(a), Math.sin(a), 0];
      var t = [Math.sin(a) * Math.cos(e), -Math.cos(a) * Math.cos(e), Math.sin(e)];
      var u = [t[1] * r[2] - t[2] * r[1], t[2] * r[0] - t[0] * r[2], t[0] * r[1] - t[1] * r[0]];
      var px = Math.min(w, h) / size * 0.96 * cam.zoom;
      var sx = new Float32Array(m.v), sy = new Float32Array(m.v), sz = new Float32Array(m.v);
      for (var v = 0; v < m.v; v++) {
        var x = m.base[3 * v] + times * m.move[3 * v] - mid[0];
        var y = m.base[3 * v + 1] + times * m.move[3 * v + 1] - mid[1];
        var z = m.base[3 * v + 2] + times * m.move[3 * v + 2] - mid[2];
        sx[v] = w / 2 + cam.x * w + px * (x * r[0] + y * r[1] + z * r[2]);
        sy[v] = h / 2 + cam.y * w - px * (x * u[0] + y * u[1] + z * u[2]);
        sz[v] = -px * (x * t[0] + y * t[1] + z * t[2]);
      }
      depth.fill(Infinity); ids.fill(-1);
      var key = [0, 1, 2].map(function (k) { return -0.397 * r[k] + 0.529 * u[k] + 0.75 * t[k]; });
      for (var f = 0; f < m.f; f++) fill(m, f, sx, sy, sz, key);
      colourAll(m, after);
      ctx.putImageData(image, 0, 0);
      mark(u, r, t);
      canvas.dataset.drawn = (+canvas.dataset.drawn || 0) + 1;
      canvas.dataset.camera = [cam.az, cam.el, cam.zoom.toFixed(3), cam.x.toFixed(3), cam.y.toFixed(3)].join(" ");
    }

    function fill(m, f, sx, sy, sz, key) {
      var a = m.index[3 * f], b = m.index[3 * f + 1], c = m.index[3 * f + 2];
      var ax = sx[a], ay = sy[a], bx = sx[b] - ax, by = sy[b] - ay, cx = sx[c] - ax, cy = sy[c] - ay;
      var det = bx * cy - by * cx;
      if (!(det < 0)) return; // turned away
      var x0 = Math.max(0, Math.ceil(ax + Math.min(0, bx, cx) - 0.5)), x1 = Math.min(w - 1, Math.floor(ax + Math.max(0, bx, cx) - 0.5));
      var y0 = Math.max(0, Math.ceil(ay + Math.min(0, by, cy) - 0.5)), y1 = Math.min(h - 1, Math.floor(ay + Math.max(0, by, cy) - 0.5));
      if (x1 < x0 || y1 < y0) return;
      var n = m.normal, o = 9 * f, s = [0, 0, 0];
      for (var k = 0; k < 3; k++) {
        var d = 0.5 + 0.5 * (n[o + 3 * k] * key[0] + n[o + 3 * k + 1] * key[1] + n[o + 3 * k + 2] * key[2]);
        s[k] = 0.6 + 0.4 * d * d;
      }
      var za = sz[a], zb = sz[b] - za, zc = sz[c] - za;
      var va = m.value[3 * f], vb = m.value[3 * f + 1] - va, vc = m.value[3 * f + 2] - va;
      var eps = -1e-5;
      for (var y = y0; y <= y1; y++) {
        var qy = y + 0.5 - ay;
        for (var x = x0; x <= x1; x++) {
          var qx = x + 0.5 - ax;
          var B = (qx * cy - qy * cx) / det, C = (bx * qy - by * qx) / det;
          if (B < eps || C < eps || B + C > 1 - eps) continue;
          var z = za + B * zb + C * zc, i = y * w + x;
          if (z >= depth[i]) continue;
          depth[i] = z; ids[i] = f;
          shade[i] = s[0] + B * (s[1] - s[0]) + C * (s[2] - s[0]);
          value[i] = va + B * vb + C * vc;
        }
      }
    }

    // Patterns by class, so that they are told apart without colour.
    function hatched(k, x, y) {
      switch (k) {
        case 0: x = (x + ((y / 8 & 1) * 4)) & 7; y &= 7; return (x - 4) * (x - 4) + (y - 4) * (y - 4) < 3;
        case 2: return (x + y) % 8 < 2;
        case 3: return x % 9 === 0 || y % 9 === 0;
      }
      return false;
    }
    function colourAll(m, after) {
      var data = image.data, jump = 6 + Math.min(w, h) / 120;
      for (var y = 0; y < h; y++) for (var x = 0; x < w; x++) {
        var i = y * w + x, f = ids[i], o = 4 * i;
        data[o + 3] = 255;
        if (f < 0) { data[o] = data[o + 1] = data[o + 2] = 255; continue; }
        var z = depth[i];
        if ((x > 0 && depth[i - 1] - z > jump) || (x + 1 < w && depth[i + 1] - z > jump) ||
            (y > 0 && depth[i - w] - z > jump) || (y + 1 < h && depth[i + w] - z > jump)) {
          data[o] = data[o + 1] = data[o + 2] = 27; continue;
        }
        var c, s = skins[m.skin[f]];
        if (after) c = scale[Math.min(scale.length - 1, Math.round(value[i] / 255 * (scale.length - 1)))];
        else c = hatched(m.skin[f], x, y) ? s.ink : s.c;
        for (var k = 0; k < 3; k++) data[o + k] = encode[Math.min(4095, Math.round(4095 * c[k] * shade[i]))];
      }
    }

    // The build direction at the lower right.
    function mark(u, r, t) {
      var s = w / canvas.clientWidth || 1, x = w - 28 * s, y = h - 16 * s, l = 34 * s;
      var dx = l * r[2], dy = -l * u[2];
      ctx.fillStyle = ctx.strokeStyle = "#1b1b1b";
      ctx.lineWidth = 2 * s;
      ctx.font = 13 * s + "px sans-serif";
      ctx.textAlign = "right";
      ctx.fillText("build", x - 8 * s, y + 4 * s);
      ctx.beginPath(); ctx.moveTo(x, y); ctx.lineTo(x + dx, y + dy); ctx.stroke();
      var n = Math.hypot(dx, dy);
      if (n < 6 * s) { ctx.beginPath(); ctx.arc(x, y, 5 * s, 0, 7); ctx.stroke(); return; }
      dx /= n; dy /= n;
      ctx.beginPath();
      ctx.moveTo(x + dx * n + dx * 6 * s, y + dy * n + dy * 6 * s);
      ctx.lineTo(x + dx * (n - 4 * s) - dy * 4 * s, y + dy * (n - 4 * s) + dx * 4 * s);
      ctx.lineTo(x + dx * (n - 4 * s) + dy * 4 * s, y + dy * (n - 4 * s) - dx * 4 * s);
      ctx.fill();
    }

    function turn(daz, del) {
      cam.az = ((cam.az + daz + 180) % 360 + 360) % 360 - 180;
      cam.el = Math.max(-90, Math.min(90, cam.el + del));
      later();
    }
    function zoom(k) { cam.zoom = Math.max(0.5, Math.min(20, cam.zoom * k)); later(); }

    canvas.addEventListener("keydown", function (e) {
      var k = e.key, used = true;
      if (k === "ArrowLeft") turn(-5, 0);
      else if (k === "ArrowRight") turn(5, 0);
      else if (k === "ArrowUp") turn(0, 5);
      else if (k === "ArrowDown") turn(0, -5);
      else if (k === "+" || k === "=") zoom(1.15);
      else if (k === "-") zoom(1 / 1.15);
      else if (k === "0" || k === "Home") { cam = Object.assign({}, start); later(); }
      else used = false;
      if (used) e.preventDefault();
    });
    var held = {}, far = 0;
    canvas.addEventListener("pointerdown", function (e) {
      canvas.setPointerCapture(e.pointerId);
      held[e.pointerId] = { x: e.clientX, y: e.clientY };
      canvas.focus();
      e.preventDefault();
    });
    canvas.addEventListener("pointermove", function (e) {
      var p = held[e.pointerId];
      if (!p) { read(e); return; }
      var dx = e.clientX - p.x, dy = e.clientY - p.y, all = Object.keys(held);
      p.x = e.clientX; p.y = e.clientY;
      if (all.length > 1) {
        var a = held[all[0]], b = held[all[1]], d = Math.hypot(a.x - b.x, a.y - b.y);
        if (far) zoom(d / far);
        far = d;
      } else if (e.shiftKey) {
        cam.x += dx / canvas.clientWidth; cam.y += dy / canvas.clientWidth; later();
      } else turn(-dx * 0.5, dy * 0.5);
    });
    ["pointerup", "pointercancel"].forEach(function (n) {
      canvas.addEventListener(n, function (e) { delete held[e.pointerId]; far = 0; });
    });
    canvas.addEventListener("wheel", function (e) {
      if (!e.ctrlKey) return; // the page scrolls
      zoom(e.deltaY < 0 ? 1.1 : 1 / 1.1);
      e.preventDefault();
    }, { passive: false });

    function read(e) {
      var r = canvas.getBoundingClientRect();
      var x = Math.floor((e.clientX - r.left) / r.width * w), y = Math.floor((e.clientY - r.top) / r.height * h);
      var i = y * w + x, f = x >= 0 && y >= 0 && x < w && y < h ? ids[i] : -1;
      if (f < 0) { out.textContent = ""; return; }
      var words = [];
      if (meta.shared || show.value === "skins") words.push(skins[current().skin[f]].text);
      if (meta.shared || show.value === "allowance") words.push("allowance " + (value[i] / 255 * meta.top_um).toFixed(0) + " µm");
      out.textContent = words.join(", ");
    }
    show.addEventListener("change", later);
    grow.addEventListener("input", function () { growText.textContent = grow.value + " ×"; show.value = "allowance"; later(); });
    Array.prototype.forEach.call(section.querySelectorAll("[data-view]"), function (b) {
      b.addEventListener("click", function () {
        var v = b.dataset.view.split(",");
        cam = Object.assign({}, start, { az: +v[0], el: +v[1] });
        later();
      });
    });
    window.addEventListener("resize", resize);
    resize();
  }
})();
