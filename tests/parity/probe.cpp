// Prints a hash of the bits the engine computes. Built twice, natively and to WebAssembly; the two outputs must be
// equal. FNV-1a, 64 bit (draft-eastlake-fnv), over the IEEE-754 bits of each result, so one differing bit shows.
#include <bit>
#include <cinttypes>
#include <cstdint>
#include <cstdio>

#include "quantity/maths.hpp"

namespace {

class Hash {
 public:
  void add(double value) {
    const auto bits = std::bit_cast<std::uint64_t>(value);
    for (unsigned byte = 0; byte < 8; ++byte) {
      hash_ ^= (bits >> (8U * byte)) & 0xffU;
      hash_ *= 0x100000001b3ULL;
    }
  }
  void print(const char* what) const { std::printf("%-6s %016" PRIx64 "\n", what, hash_); }

 private:
  std::uint64_t hash_ = 0xcbf29ce484222325ULL;
};

constexpr int kPoints = 100000;

template <typename Function>
void probe(const char* what, double from, double to, Function function) {
  Hash hash;
  for (int i = 0; i < kPoints; ++i) hash.add(function(from + (to - from) * i / (kPoints - 1)));
  hash.print(what);
}

}  // namespace

int main() {
  using namespace tillwrap;
  probe("exp", -700.0, 700.0, [](double x) { return maths::exp(x); });
  probe("log", -700.0, 700.0, [](double x) { return maths::log(maths::exp(x)); });
  probe("asinh", -50.0, 50.0, [](double x) { return maths::asinh(x); });
  probe("pow", 1e-3, 1e3, [](double x) { return maths::pow(x, 0.37); });
}
