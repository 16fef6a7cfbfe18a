// What the page's worker may call. Strings cross as UTF-8, zero-terminated; what comes back is owned by the module and
// lasts until the next call.
#include <emscripten/emscripten.h>

#include <string>

#include "door/door.hpp"
#ifdef TILLWRAP_WHOLE
#include "door/decide.hpp"
#endif

namespace {

#ifdef TILLWRAP_WHOLE
// clang-format off
EM_JS(void, tillwrap_told, (const char* part, int done, int pieces), {
  if (Module["told"]) Module["told"](UTF8ToString(part), done, pieces);
})

EM_JS(void, tillwrap_found, (const char* json), {
  if (Module["found"]) Module["found"](UTF8ToString(json));
})
// clang-format on

// One thread: the pieces are counted here.
struct Progress {
  std::string part;
  int done = 0;
  int pieces = 0;
};

tillwrap::odds::Tell progress() {
  static Progress now;
  return {.begins =
              [](std::string_view part, std::size_t pieces) {
                now = {.part = std::string(part), .pieces = static_cast<int>(pieces)};
                tillwrap_told(now.part.c_str(), now.done, now.pieces);
              },
          .piece_done = [] { tillwrap_told(now.part.c_str(), ++now.done, now.pieces); },
          .found = [](const std::string& json) { tillwrap_found(json.c_str()); }};
}

tillwrap::door::Door& door() {
  static tillwrap::door::Door one(&tillwrap::door::decisions(), progress());
  return one;
}
#else
tillwrap::door::Door& door() {
  static tillwrap::door::Door one;
  return one;
}
#endif

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
