// Writes sw.js beside the built page: its list of files and a version that changes with any of them.
import { createHash } from 'node:crypto';
import { readFileSync, readdirSync, statSync, writeFileSync } from 'node:fs';
import { join, relative } from 'node:path';
import type { Plugin } from 'vite';

function files(folder: string): string[] {
  return readdirSync(folder).flatMap((name) => {
    const path = join(folder, name);
    return statSync(path).isDirectory() ? files(path) : [path];
  });
}

export function offline(template: string): Plugin {
  let out = '';
  return {
    name: 'offline',
    apply: 'build',
    configResolved(config) {
      out = config.build.outDir;
    },
    closeBundle() {
      const all = files(out)
        .filter((path) => !path.endsWith('sw.js'))
        .sort();
      const hash = createHash('sha256');
      for (const path of all) hash.update(relative(out, path)).update(readFileSync(path));
      const list = ['./', ...all.map((path) => './' + relative(out, path))];
      const text = readFileSync(template, 'utf8')
        .replace('__VERSION__', hash.digest('hex').slice(0, 16))
        .replace('__FILES__', JSON.stringify(list, null, 2));
      writeFileSync(join(out, 'sw.js'), text);
    },
  };
}
