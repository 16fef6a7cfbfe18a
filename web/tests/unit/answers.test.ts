// The page's types of the door's answers are those of the schemas; answers of the engine have the keys they promise.
import { readFileSync, readdirSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import { written } from '../../src/state/day';
import { ask, example } from './door';
// @ts-expect-error: a script without types
import { answers, typed } from '../../tools/answers.mjs';

const folder = new URL('../../src/engine/answers/', import.meta.url);
const names = Object.keys(answers as Record<string, string>);

describe('types made from the schemas', () => {
  it('one a schema, no other', () => {
    expect(readdirSync(folder).sort()).toEqual(names.map((name) => `${name}.ts`).sort());
  });
  it.each(names)('%s is current', async (name) => {
    expect(readFileSync(new URL(`${name}.ts`, folder), 'utf8')).toBe(await (typed as (name: string) => Promise<string>)(name));
  });
  it.each(['forecast', 'meters', 'findings', 'travel', 'remedies'])('%s: the engine gives each key the schema promises', (name) => {
    const schema = JSON.parse(readFileSync(new URL(`../../../schema/${name}.schema.json`, import.meta.url), 'utf8')) as { required: string[] };
    const { answer, error } = ask({ ask: name, day: written(example('cinema-plate')), on: '2026-11-25' });
    expect(error).toBeUndefined();
    const given = name === 'forecast' ? (answer!.forecast as object) : answer!;
    expect(schema.required.filter((key) => !(key in given))).toEqual([]);
  }, 60_000);
});
