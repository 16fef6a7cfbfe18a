// What the page's worker may call. Strings cross as UTF-8, zero-terminated; what comes back is owned by the module and
// lasts until the next call.
#include <emscripten/emscripten.h>

#include <string>

#include "door/door.hpp"
#ifdef TILLWRAP_WHOLE
#include "door/decide.hpp"
#endif

namespace {

tillwrap::door::Door& door() {
#ifdef TILLWRAP_WHOLE
  static tillwrap::door::Door one(&tillwrap::door::decisions());
#else
  static tillwrap::door::Door one;
#endif
  return one;
}

}  // namespace

extern "C" {

EMSCRIPTEN_KEEPALIVE const char* tillwrap_version() { return TILLWRAP_VERSION; }

// docs/door.md.
EMSCRIPTEN_KEEPALIVE const char* tillwrap_ask(const char* question) {
  static std::string answer;
  answer = door().ask(question);
  return answer.c_str();
}

EMSCRIPTEN_KEEPALIVE const double* tillwrap_curves() { return door().curves().data(); }
EMSCRIPTEN_KEEPALIVE int tillwrap_curves_length() { return static_cast<int>(door().curves().size()); }
EMSCRIPTEN_KEEPALIVE double* tillwrap_samples() { return door().samples().data(); }
EMSCRIPTEN_KEEPALIVE int tillwrap_samples_length() { return static_cast<int>(door().samples().size()); }
// Room for `length` margins, to be filled before an "odds_summary".
EMSCRIPTEN_KEEPALIVE double* tillwrap_samples_room(int length) {
  door().samples().assign(static_cast<std::size_t>(length < 0 ? 0 : length), 0.0);
  return door().samples().data();
}

}  // extern "C"
