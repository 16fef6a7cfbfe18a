// Property tests repeat: the same seed on every run, unless RC_PARAMS says otherwise. Include once a test program.
#pragma once

#include <cstdlib>

namespace tillwrap::test {

struct FixedSeed {
  explicit FixedSeed(const char* params) { setenv("RC_PARAMS", params, 0); }
};

}  // namespace tillwrap::test
