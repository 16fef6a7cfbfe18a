// A day file of any bytes: read, or refused with one complaint; never anything else. What was read, written as JSON and
// read again, is the same day.
#include <cstdlib>
#include <string>

#include "app/day_file.hpp"
#include "catalogue/catalogue.hpp"
#include "decode/node.hpp"
#include "door/node_json.hpp"

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  using namespace tillwrap;
  const std::string text(reinterpret_cast<const char*>(data), size);
  std::string once;
  try {
    const decode::Document document = decode::read_toml_or_json(text, "fuzzed");
    app::read_day(document, catalogue::builtin());
    once = door::node_json(document.root).dump();
  } catch (const decode::InputError&) {
    return 0;
  }
  const decode::Document again = decode::read_toml_or_json(once, "written");
  app::read_day(again, catalogue::builtin());
  if (door::node_json(again.root).dump() != once) std::abort();
  return 0;
}
