// What the page's worker may call. Strings cross as UTF-8, zero-terminated; what comes back is owned by the module and
// lasts until the next call.
#include <emscripten/emscripten.h>

#include <nlohmann/json.hpp>
#include <string>

#include "app/assess.hpp"
#include "app/day_file.hpp"
#include "app/forecast_report.hpp"

namespace {

using namespace tillwrap;

std::string forecast_answer(const std::string& text, const std::string& name) {
  const std::size_t start = text.find_first_not_of(" \t\r\n");
  const bool json = start != std::string::npos && text[start] == '{';
  const decode::Document document = json ? decode::read_json(text, name) : decode::read_toml(text, name);
  app::DayFile file = app::read_day(document, catalogue::builtin());
  const app::Assessment answer = app::assess(file, {});
  return app::forecast_json(
      {.file = &file, .forecast = &answer.forecast, .measured = &answer.measured, .odds = &answer.odds});
}

}  // namespace

extern "C" {

EMSCRIPTEN_KEEPALIVE const char* tillwrap_version() { return TILLWRAP_VERSION; }

// The day file `text` (TOML or JSON, docs/formats.md), called `name` in messages. Answers with the forecast
// (schema/forecast.schema.json), or with {"error": "one line"} when the input is bad.
EMSCRIPTEN_KEEPALIVE const char* tillwrap_forecast(const char* text, const char* name) {
  static std::string answer;
  try {
    answer = forecast_answer(text, name);
  } catch (const std::exception& error) {
    answer = nlohmann::json{{"error", error.what()}}.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
  }
  return answer.c_str();
}

}  // extern "C"
