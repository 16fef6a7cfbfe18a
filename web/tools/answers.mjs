// answers.mjs: writes src/engine/answers from the schemas of the door's answers. `npm run answers`; a test holds them current.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { compile } from 'json-schema-to-typescript';

const here = (path) => fileURLToPath(new URL(path, import.meta.url));

// A schema, and what its type is called.
export const answers = {
  catalogue: 'Catalogue',
  choose: 'Choice',
  findings: 'Findings',
  forecast: 'Forecast',
  health: 'Health',
  kit: 'Kit',
  meters: 'Meters',
  odds: 'Odds',
  recharge: 'Recharge',
  remedies: 'Remedies',
  sheet: 'PowerSheet',
  run: 'Run',
  track: 'Track',
  travel: 'Travel',
};

export async function typed(name) {
  const schema = JSON.parse(readFileSync(here(`../../schema/${name}.schema.json`), 'utf8'));
  // The library knows "definitions"; 2020-12 calls them "$defs". A title names a type, here the root's own.
  const text = JSON.stringify({ ...schema, title: answers[name] }).replaceAll('"$defs"', '"definitions"').replaceAll('#/$defs/', '#/definitions/').replaceAll('"additionalProperties":true,', '').replaceAll(',"additionalProperties":true', '');
  return compile(JSON.parse(text), answers[name], {
    additionalProperties: false, // further keys are passed over
    bannerComment: `// Made from schema/${name}.schema.json by \`npm run answers\`: not written by hand.`,
    style: { singleQuote: true, printWidth: 140 },
  });
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  mkdirSync(here('../src/engine/answers'), { recursive: true });
  for (const name of Object.keys(answers)) writeFileSync(here(`../src/engine/answers/${name}.ts`), await typed(name));
}
