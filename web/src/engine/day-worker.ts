// The day alone: small, loaded first.
import load from '$wasm/tillwrap-day.mjs';
import wasmUrl from '$wasm/tillwrap-day.wasm?url';
import { serve } from './serve';

serve(load, wasmUrl);
