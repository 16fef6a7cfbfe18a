// same_answers.mjs MODULE PROGRAM VERSION EXAMPLES: the WebAssembly module must answer every example day, and bad input,
// with the same bytes as the native program. The module is built for browsers, so node hands it the bytes.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const [path, program, version, examples] = process.argv.slice(2);
const load = (await import(pathToFileURL(path))).default;
const engine = await load({ wasmBinary: readFileSync(path.replace(/\.mjs$/, '.wasm')) });
const forecast = (text, name) => engine.ccall('tillwrap_forecast', 'string', ['string', 'string'], [text, name]);

assert.equal(engine.ccall('tillwrap_version', 'string', [], []), version);
assert.equal(spawnSync(program, ['--version'], { encoding: 'utf8' }).stdout.trim(), `tillwrap ${version}`);

const days = readdirSync(examples).filter((name) => name.endsWith('.toml'));
assert.ok(days.length > 0, `no example days in ${examples}`);
for (const day of days) {
  const file = `${examples}/${day}`;
  const native = spawnSync(program, ['forecast', file, '--json'], { encoding: 'utf8', maxBuffer: 1 << 28 });
  assert.ok(native.status === 0 || native.status === 1, `${day}: ${native.stderr}`);
  const start = performance.now();
  const answer = forecast(readFileSync(file, 'utf8'), file);
  const took_ms = performance.now() - start;
  assert.equal(answer.trim(), native.stdout.trim(), `${day}: the answers differ`);
  console.log(`${day}: ${answer.length} bytes the same; ${took_ms.toFixed(0)} ms in WebAssembly`);
}

const bad = 'title = "x"\nnonsense = 1\n';
const native = spawnSync(program, ['forecast', '-', '--json'], { encoding: 'utf8', input: bad });
assert.equal(native.status, 2);
const { error } = JSON.parse(forecast(bad, 'standard input'));
assert.ok(native.stderr.includes(error), `${native.stderr} against ${error}`);
console.log(error);
