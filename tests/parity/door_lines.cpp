// The native door, a question a line: prints the answer and then the curves' bits, for same_answers.mjs.
#include <bit>
#include <cinttypes>
#include <cstdint>
#include <cstdio>
#include <iostream>
#include <string>

#include "door/decide.hpp"
#include "door/door.hpp"

int main() {
  tillwrap::door::Door door(&tillwrap::door::decisions());
  std::string question;
  while (std::getline(std::cin, question)) {
    std::printf("%s\n", door.ask(question).c_str());
    for (const auto* numbers : {&door.curves(), static_cast<const std::vector<double>*>(&door.samples())}) {
      std::uint64_t hash = 0xcbf29ce484222325ULL;
      for (const double value : *numbers) {
        const auto bits = std::bit_cast<std::uint64_t>(value);
        for (unsigned byte = 0; byte < 8; ++byte) hash = (hash ^ ((bits >> (8U * byte)) & 0xffU)) * 0x100000001b3ULL;
      }
      std::printf("%zu %016" PRIx64 "\n", numbers->size(), hash);
    }
  }
  return 0;
}
