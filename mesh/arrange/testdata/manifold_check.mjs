// Checks with an independent general-purpose library that binary STL files are
// manifold: npm install manifold-3d, then
//
//     NODE_PATH is not read by ES modules, so run it from the folder that holds node_modules:
//     node --preserve-symlinks-main manifold_check.mjs PART.stl...
//
// or give the folder with MANIFOLD_DIR=/path/to/node_modules/manifold-3d.
// Corners are welded only where their coordinates are equal bit for bit. One
// line a file: ok or the library's status, facets, volume in mm3, name. The exit code
// is 1 when any file is refused.
import fs from 'node:fs';
import path from 'node:path';
import { pathToFileURL } from 'node:url';

const dir = process.env.MANIFOLD_DIR;
const entry = dir ? pathToFileURL(path.resolve(dir, 'manifold.js')).href : 'manifold-3d';
const wasm = await (await import(entry)).default();
wasm.setup();

// read returns the welded corners and triangles of a binary STL file.
function read(file) {
  const b = fs.readFileSync(file);
  const n = b.readUInt32LE(80);
  if (b.length !== 84 + 50 * n) throw new Error('no binary STL file');
  const at = new Map();
  const vert = [];
  const tri = new Uint32Array(3 * n);
  for (let i = 0; i < 3 * n; i++) {
    const o = 84 + 50 * Math.floor(i / 3) + 12 + 12 * (i % 3);
    const p = [0, 4, 8].map((d) => b.readFloatLE(o + d) + 0);
    const key = p.join(' ');
    let v = at.get(key);
    if (v === undefined) {
      v = at.size;
      at.set(key, v);
      vert.push(...p);
    }
    tri[i] = v;
  }
  return { numProp: 3, vertProperties: Float32Array.from(vert), triVerts: tri };
}

let failed = false;
for (const file of process.argv.slice(2)) {
  let status = 'ok';
  let facets = 0;
  let volume = NaN;
  try {
    const raw = read(file);
    facets = raw.triVerts.length / 3;
    const m = new wasm.Manifold(new wasm.Mesh(raw));
    const s = m.status();
    if (s !== 'NoError' && s?.value !== 0 && s !== 0) status = String(s?.value ?? s);
    else if (facets > 0 && m.isEmpty()) status = 'empty';
    else volume = m.volume();
    m.delete();
  } catch (e) {
    status = e.message || String(e);
  }
  if (status !== 'ok') failed = true;
  console.log(`${status} ${facets} ${volume.toFixed(6)} ${path.basename(file)}`);
}
process.exit(failed ? 1 : 0);
