#include "journal/unite.hpp"

#include <algorithm>

namespace tillwrap::journal {

std::vector<Line> united(std::vector<Line> a, const std::vector<Line>& b) {
  a.insert(a.end(), b.begin(), b.end());
  std::sort(a.begin(), a.end(), before);
  a.erase(std::unique(a.begin(), a.end(), [](const Line& x, const Line& y) { return x.text == y.text; }), a.end());
  return a;
}

Survey survey(const std::vector<Line>& takers, const std::vector<Line>& same_id) {
  Survey out;
  std::set<std::string> seen;
  for (const Line& line : same_id) {
    if (!seen.insert(line.text).second) continue;
    Survey::Differing& one = out.differing[line.id];
    if (one.lines++ == 0 || line.text < one.counts) one.counts = line.text;
  }
  std::erase_if(out.differing, [](const auto& entry) { return entry.second.lines < 2; });
  std::map<std::string, std::string> target;  // by taker
  for (const Line& line : takers) {
    if (line.form == nullptr || line.form->event != Event::taken_back) continue;
    const auto differs = out.differing.find(line.id);
    if (differs == out.differing.end() || differs->second.counts == line.text) target[line.id] = line.words("of");
  }
  for (auto taker = target.rbegin(); taker != target.rend(); ++taker) {
    if (taker->second < taker->first && !out.void_ids.contains(taker->first)) out.void_ids.insert(taker->second);
  }
  for (auto taker = target.rbegin(); taker != target.rend(); ++taker) {
    if (taker->second > taker->first && !out.void_ids.contains(taker->first)) out.void_ids.insert(taker->second);
  }
  for (const auto& [id, of] : target) {
    if (!out.void_ids.contains(id)) out.taken_back[id] = of;
  }
  return out;
}

Survey survey(const std::vector<Line>& all) {
  std::map<std::string, std::vector<const Line*>> by_id;
  for (const Line& line : all) by_id[line.id].push_back(&line);
  std::vector<Line> same_id;
  for (const auto& [id, lines] : by_id) {
    if (lines.size() < 2) continue;
    for (const Line* line : lines) same_id.push_back(*line);
  }
  return survey(all, same_id);
}

}  // namespace tillwrap::journal
