// load_module.mjs MODULE VERSION: loads the compiled engine in node and asks its version. The module is built for
// browsers, so node hands it the bytes.
import assert from 'node:assert/strict';
import { readFile } from 'node:fs/promises';
import { pathToFileURL } from 'node:url';

const [path, version] = process.argv.slice(2);
const load = (await import(pathToFileURL(path))).default;
const engine = await load({ wasmBinary: await readFile(path.replace(/\.mjs$/, '.wasm')) });
assert.equal(engine.UTF8ToString(engine._tillwrap_version()), version);
console.log(`module ${version} loaded`);
