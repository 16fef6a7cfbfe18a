// The commented day file that `tillwrap init` writes.
#pragma once

#include <string>

namespace tillwrap::app {

std::string starter_day();

}  // namespace tillwrap::app
