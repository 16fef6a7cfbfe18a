// Journal lines in words, and answers about a journal.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "journal/fold.hpp"
#include "journal/line.hpp"

namespace tillwrap::app {

// "C2 charged to 100 %"; an event nobody here knows: its name.
std::string event_words(const journal::Line& line);

// The last six letters of an id, by which a person names a line.
std::string short_id(const std::string& id);

// A list for a terminal: when, what, who wrote it, id. Zones are told where they change.
class JournalList {
 public:
  explicit JournalList(const journal::Survey& survey) : survey_(survey) {}
  std::string row(const journal::Line& line);  // with its line ends

 private:
  const journal::Survey& survey_;
  bool begun_ = false;
  int offset_min_ = 0;
};

// One line of list --json's "lines".
std::string line_json(const journal::Line& line, const journal::Survey& survey);

// Remarks by kind, each once with a count, wrapped.
std::string remarks_text(const std::vector<journal::Remark>& remarks, std::size_t most);

}  // namespace tillwrap::app
