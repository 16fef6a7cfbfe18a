#include "odds/work.hpp"

namespace tillwrap::odds {

void one_after_another(std::size_t count, const std::function<void(std::size_t)>& body) {
  for (std::size_t k = 0; k < count; ++k) body(k);
}

void work(const Each& each, const Tell& tell, std::string_view part, std::size_t count,
          const std::function<void(std::size_t)>& body) {
  if (tell.begins) tell.begins(part, count);
  const auto piece = [&](std::size_t k) {
    body(k);
    if (tell.piece_done) tell.piece_done();
  };
  if (each) {
    each(count, piece);
  } else {
    one_after_another(count, piece);
  }
}

}  // namespace tillwrap::odds
