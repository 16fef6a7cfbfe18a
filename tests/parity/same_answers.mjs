// same_answers.mjs MODULE DOOR PROGRAM VERSION EXAMPLES: the WebAssembly module must answer every example day, and bad
// input, with the same bytes as the native engine, curves and odds bit for bit. The module is built for browsers, so
// node hands it the bytes.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync } from 'node:fs';
import { pathToFileURL } from 'node:url';

const [path, door, program, version, examples] = process.argv.slice(2);
const load = (await import(pathToFileURL(path))).default;
const engine = await load({ wasmBinary: readFileSync(path.replace(/\.mjs$/, '.wasm')) });
const ask = (question) => engine.ccall('tillwrap_ask', 'string', ['string'], [question]);

assert.equal(engine.ccall('tillwrap_version', 'string', [], []), version);
assert.equal(spawnSync(program, ['--version'], { encoding: 'utf8' }).stdout.trim(), `tillwrap ${version}`);

// FNV-1a over the bits, as door_lines.cpp prints it.
function hashed(name) {
  const start = engine.ccall(`tillwrap_${name}`, 'number', [], []);
  const length = engine.ccall(`tillwrap_${name}_length`, 'number', [], []);
  const bytes = engine.HEAPU8.subarray(start, start + 8 * length);
  let hash = 0xcbf29ce484222325n;
  for (const byte of bytes) hash = ((hash ^ BigInt(byte)) * 0x100000001b3n) & 0xffffffffffffffffn;
  return `${length} ${hash.toString(16).padStart(16, '0')}`;
}

// Of the day's first device, at a volt it may well have.
const reading = (day) =>
  JSON.stringify({ v: 1, id: '01a213c1-15c5-70d4-af6f-000000000011', at: `${/\ndate = "([^"]*)"/.exec(day)?.[1] ?? '2026-11-25'}T09:30:00+01:00`, by: 'page', what: 'reading', point: 'input volts', of: /\[\[device\]\][^[]*?name = "([^"]*)"/.exec(day)?.[1], value: 14.5 });

const days = readdirSync(examples).filter((name) => name.endsWith('.toml'));
assert.ok(days.length > 0, `no example days in ${examples}`);
const whole = !path.endsWith('-day.mjs');
const questions = [];
for (const file of days) {
  const day = readFileSync(`${examples}/${file}`, 'utf8');
  questions.push({ id: 1, ask: 'forecast', day, name: file, strip: true, odds_days: 64 });
  questions.push({ id: 2, ask: 'odds_range', day, name: file, days: 256, first: 100, count: 56 });
  questions.push({ id: 3, ask: 'as_json', day, name: file });
  questions.push({ id: 7, ask: 'changes', day, name: file });
  const at_s = 10 * 3600;
  questions.push({ id: 20, ask: 'stands', day, name: file, lines: '', at_s });
  questions.push({ id: 21, ask: 'track', day, name: file, lines: reading(day), at_s });
  if (whole) {
    questions.push({ id: 8, ask: 'meters', day, name: file });
    questions.push({ id: 9, ask: 'findings', day, name: file });
    questions.push({ id: 10, ask: 'travel', day, name: file, on: '2026-11-25' });
    questions.push({ id: 16, ask: 'remedies', day, name: file, days: 32 });
  }
}
if (whole) {
  const now = '2026-03-01T12:00:00+01:00';
  const lines = readFileSync(`${examples}/../tests/journal/fixtures/format-1.jsonl`, 'utf8') + '{"v":1}\n';
  questions.push({ id: 12, ask: 'journal', now, lines });
  const week = (name) => readFileSync(`${examples}/week/${name}`, 'utf8');
  const week_days = readdirSync(`${examples}/week`).filter((name) => /^\d.*\.toml$/.test(name));
  const of_week = week_days.map((name) => ({ file: name, day: week(name) }));
  questions.push({ id: 17, ask: 'run', run: week('run.toml'), days: of_week, name: 'the week' });
  questions.push({ id: 18, ask: 'run', run: week('run.toml'), days: of_week.slice(1), name: 'the week without its first day' });
  questions.push({ id: 19, ask: 'params', text: `[[cell]]${readFileSync(`${examples}/../src/catalogue/data/chemistry.toml`, 'utf8').split('[[cell]]')[1]}`, name: 'own.toml' });
  questions.push({ id: 13, ask: 'health', now, lines, pack: 'C2' });
  const keys = { pack: 'C2', charge: '80 %' };
  questions.push({ id: 14, ask: 'journal_line', now, random: '0cc318c4dc0c0c07398f', by: 'phone', what: 'charged', keys });
  questions.push({ id: 15, ask: 'journal_line', now, random: '0cc318c4dc0c0c07398f', by: 'phone', what: 'charged', keys: {} });
}
questions.push({ id: 4, ask: 'catalogue', what: 'packs' });
questions.push({ id: 5, ask: 'forecast', day: 'title = "x"\nnonsense = 1\n', name: 'a bad day' });
questions.push({ id: 6, ask: 'nothing' });
const lines = questions.map((question) => JSON.stringify(question));
const native = spawnSync(door, [], { encoding: 'utf8', input: lines.join('\n') + '\n', maxBuffer: 1 << 28 });
assert.equal(native.status, 0, native.stderr);
const expected = native.stdout.trimEnd().split('\n');
assert.equal(expected.length, 3 * questions.length);
questions.forEach((question, i) => {
  const start = performance.now();
  const answer = ask(lines[i]);
  const took_ms = performance.now() - start;
  assert.equal(answer, expected[3 * i], `${question.ask} ${question.name}: the answers differ`);
  assert.equal(hashed('curves'), expected[3 * i + 1], `${question.ask} ${question.name}: the curves differ`);
  assert.equal(hashed('samples'), expected[3 * i + 2], `${question.ask} ${question.name}: the odds differ`);
  console.log(`${question.ask} ${question.name ?? ''}: ${answer.length} bytes the same; ${took_ms.toFixed(0)} ms`);
});
assert.ok(JSON.parse(ask(lines.at(-2))).error.message.length > 0);
// What the small module leaves to the whole engine, it says so.
const beyond = JSON.parse(ask(JSON.stringify({ id: 11, ask: 'meters', day: readFileSync(`${examples}/${days[0]}`, 'utf8') })));
assert.equal(beyond.error === undefined, whole);
