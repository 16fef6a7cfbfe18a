// The built page over loopback, as any web host would give it.
import { createReadStream, existsSync, readFileSync, statSync } from 'node:fs';
import { createServer } from 'node:http';
import { extname, join, normalize, resolve } from 'node:path';
import { gzipSync } from 'node:zlib';

const types = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript',
  '.css': 'text/css',
  '.wasm': 'application/wasm',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.webmanifest': 'application/manifest+json',
};

const packed = new Set(['.html', '.js', '.css', '.wasm', '.svg', '.webmanifest']);
const kept = new Map(); // packed once

export function serve(root, port = 0) {
  const server = createServer((request, response) => {
    const path = normalize(decodeURIComponent(new URL(request.url, 'http://x').pathname));
    let file = join(root, path);
    if (existsSync(file) && statSync(file).isDirectory()) file = join(file, 'index.html');
    if (!file.startsWith(root) || !existsSync(file)) {
      response.writeHead(404).end();
      return;
    }
    const type = { 'content-type': types[extname(file)] ?? 'application/octet-stream' };
    if (!packed.has(extname(file)) || !/\bgzip\b/.test(request.headers['accept-encoding'] ?? '')) {
      response.writeHead(200, type);
      createReadStream(file).pipe(response);
      return;
    }
    const key = `${file} ${statSync(file).mtimeMs}`;
    if (!kept.has(key)) kept.set(key, gzipSync(readFileSync(file)));
    response.writeHead(200, { ...type, 'content-encoding': 'gzip', vary: 'accept-encoding' }).end(kept.get(key));
  });
  return new Promise((done) => server.listen(port, '127.0.0.1', () => done(server)));
}

if (process.argv[1]?.endsWith('serve.mjs')) {
  const server = await serve(resolve(process.argv[2]), Number(process.argv[3] ?? 0));
  console.log(`http://127.0.0.1:${server.address().port}/  (Ctrl-C ends it)`);
}
