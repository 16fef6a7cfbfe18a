// What the page's worker may call. Strings cross as UTF-8, zero-terminated, owned by the module.
#include <emscripten/emscripten.h>

extern "C" {

EMSCRIPTEN_KEEPALIVE const char* tillwrap_version() { return TILLWRAP_VERSION; }

}  // extern "C"
