declare module '$wasm/*.mjs' {
  const load: (options: { locateFile: (name: string) => string; told: (part: string, done: number, pieces: number) => void; found: (json: string) => void }) => Promise<never>;
  export default load;
}
declare module '$wasm/*.wasm?url' {
  const url: string;
  export default url;
}
declare module '$examples/*.toml?raw' {
  const text: string;
  export default text;
}
