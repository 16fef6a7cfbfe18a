declare module '$wasm/tillwrap.mjs' {
  const load: (options: { locateFile: (name: string) => string }) => Promise<never>;
  export default load;
}
declare module '$wasm/tillwrap.wasm?url' {
  const url: string;
  export default url;
}
declare module '$examples/*.toml?raw' {
  const text: string;
  export default text;
}
