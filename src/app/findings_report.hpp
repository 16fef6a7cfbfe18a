// `tillwrap findings` in words and as JSON.
#pragma once

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "app/day_file.hpp"
#include "app/wording.hpp"
#include "findings/findings.hpp"

namespace tillwrap::app {

// One finding for a person. Its number is its place in the list, from 1; the drawing marks places with it.
struct FindingWords {
  std::string title;
  std::vector<std::string> where;  // one an item: "line 243: box.tap to monitor, ..."
  std::string advice;
  std::string source;  // of the limit
};

FindingWords finding_words(const findings::Finding& finding, const Wording& wording);
std::string severity_words(findings::Severity severity);

// What the decoder warned of and no rule covers.
std::vector<Warning> other_warnings(const DayFile& file);

std::string findings_text(const DayFile& file, const std::vector<findings::Finding>& found);
std::string findings_json(const DayFile& file, const std::vector<findings::Finding>& found);
nlohmann::ordered_json findings_object(const DayFile& file, const std::vector<findings::Finding>& found);

}  // namespace tillwrap::app
