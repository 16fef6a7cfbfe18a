// The one door between the page and the engine: a JSON question in, a JSON answer out, long rows of numbers beside it.
// Questions and answers: docs/door.md and schema/door.schema.json.
#pragma once

#include <memory>
#include <string>
#include <vector>

#include "odds/work.hpp"

namespace tillwrap::door {

// Questions beyond the day itself: decide.hpp.
struct Further;

// Holds what follows from one question to the next: the last strip's curves, the days of the odds computed so far.
class Door {
 public:
  // Without `further` only the questions about the day itself are answered: the small module a page loads first.
  // `tell` hears how far a slow question is while it is answered.
  explicit Door(const Further* further = nullptr, odds::Tell tell = {});
  ~Door();
  Door(Door&&) noexcept;
  Door& operator=(Door&&) noexcept;

  // Never throws: what is wrong comes back as {"id": ..., "error": {...}}.
  std::string ask(const std::string& question);

  // Curves of the last forecast with a strip: pairs (seconds after midnight, value); the answer says which stretch is
  // whose.
  [[nodiscard]] const std::vector<double>& curves() const;
  // Of the last "odds_range": the margin of each day, s.
  std::vector<double>& samples();

 private:
  struct Own;
  std::unique_ptr<Own> own_;
};

}  // namespace tillwrap::door
