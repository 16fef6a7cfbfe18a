// Any bytes as a question at the door: an answer in JSON with an id and either "answer" or "error".
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <string>

#include "door/decide.hpp"
#include "door/door.hpp"

extern "C" int LLVMFuzzerTestOneInput(const unsigned char* data, std::size_t size) {
  using namespace tillwrap;
  door::Door door(&door::decisions());
  const std::string question(reinterpret_cast<const char*>(data), size);
  const auto answer = nlohmann::json::parse(door.ask(question));
  if (!answer.contains("id") || answer.contains("answer") == answer.contains("error")) std::abort();
  return 0;
}
