// The whole engine: loaded when something is to be decided.
import load from '$wasm/tillwrap.mjs';
import wasmUrl from '$wasm/tillwrap.wasm?url';
import { serve } from './serve';

serve(load, wasmUrl);
