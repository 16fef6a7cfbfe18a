#include "app/chosen_day.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "app/report_json.hpp"
#include "app/words.hpp"
#include "decode/splice.hpp"
#include "decode/units.hpp"

namespace tillwrap::app {

namespace {

using decode::Dimension;
using decode::Node;

constexpr std::size_t kWidth = 80;
constexpr double kSameDraw = 1e-12;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

// What JSON escapes, TOML v1.0.0 reads in a basic string; DEL it wants escaped too.
std::string quoted(const std::string& text) {
  std::string out = Json(text).dump();
  for (std::size_t k = out.find('\x7F'); k != std::string::npos; k = out.find('\x7F')) out.replace(k, 1, "\\u007f");
  return out;
}

std::string clock(double at_s) { return quoted(decode::quantity_words(at_s, Dimension::clock)); }

// One pack in a list of packs, and what is to be said of it.
struct Entry {
  std::string text, remark;
};

class Writer {
 public:
  Writer(const std::string& text, const decode::Document& document, const ChooseAnswer& answer)
      : text_(text), document_(document), answer_(answer), day_(answer.choice.scenario), json_(decode::is_json(text)) {}

  // The key "gauge" and its value, as amps at volts in a period.
  void write_as_draw(const MeasuredOutcome& gauge) {
    const auto index = static_cast<std::size_t>(gauge.draw - answer_.file.measured.data());
    const Node& table = *tables("measured").at(index);
    const Node& gauge_node = *table.find("gauge");
    const std::size_t begin = decode::offset_of(text_, gauge_node.key_place);
    const std::size_t end = decode::value_end(text_, decode::offset_of(text_, gauge_node.place));
    const bool lines = !json_ && text_[decode::offset_of(text_, table.place)] != '{';
    const std::string draw = quoted(fmt::format("{} A at {} V", gauge.amps, gauge.draw->volts));
    const std::string during = quoted(day_.periods[at(gauge.period)].name);
    splices_.push_back({begin, end,
                        json_   ? "\"draw\": " + draw + ", \"during\": " + during
                        : lines ? fmt::format("draw = {}  # in place of {}\nduring = {}", draw,
                                              text_.substr(begin, end - begin), during)
                                : fmt::format("draw = {}, during = {}", draw, during)});
  }

  std::string written() {
    const std::vector<const Node*> holders = tables("holder");
    for (std::size_t h = 0; h < day_.holders.size(); ++h) {
      const day::Holder& holder = day_.holders[h];
      if (holder.built_in || holder.charger_supply >= 0) continue;
      const Node* packs = named(holders, holder.name).find("packs");
      replace(*packs, in_list(slots(static_cast<int>(h)), packs->place));
    }
    const std::vector<const Node*> chargers = tables("charger");
    for (const kit::ChargerItem& charger : answer_.file.inventory.chargers)
      write_bays(named(chargers, charger.name), charger);
    return decode::spliced(text_, std::move(splices_));
  }

 private:
  [[nodiscard]] std::vector<const Node*> tables(const char* list) const {
    std::vector<const Node*> found;
    const Node* all = document_.root.find(list);
    for (std::size_t k = 0; all != nullptr && k < all->children.size(); ++k) found.push_back(&all->children[k]);
    return found;
  }

  static const Node& named(const std::vector<const Node*>& tables, const std::string& name) {
    const auto found = std::find_if(tables.begin(), tables.end(), [&](const Node* table) {
      const Node* own = table->find("name");
      return own != nullptr && own->text == name;
    });
    if (found == tables.end()) throw std::logic_error("the day file no longer has \"" + name + "\"");
    return **found;
  }

  std::string table(const std::vector<std::pair<std::string, std::string>>& keys) const {
    std::string out = "{ ";
    for (const auto& [key, value] : keys)
      out += (out.size() > 2 ? ", " : "") + (json_ ? quoted(key) + ": " : key + " = ") + value;
    return out + " }";
  }

  std::vector<Entry> slots(int h) const {
    const day::Holder& holder = day_.holders[at(h)];
    std::vector<Entry> entries;
    for (std::size_t k = 0; k < holder.slots.size(); ++k) {
      const day::Slot& slot = holder.slots[k];
      const std::string label = quoted(day_.packs[at(slot.pack)].params.label);
      Entry entry;
      if (holder.charger_supply >= 0) {
        std::vector<std::pair<std::string, std::string>> keys{{"pack", label}, {"from", clock(slot.at_s)}};
        if (!std::isnan(slot.out_s)) keys.emplace_back("until", clock(slot.out_s));
        entry.text = table(keys);
      } else if (k == 0 && slot.at_s == day_.periods.front().from_s) {
        entry.text = label;
      } else {
        entry.text = table({{"pack", label}, {"at", clock(slot.at_s)}});
      }
      if (k > 0) entry.remark = waits(h, k);
      entries.push_back(std::move(entry));
    }
    return entries;
  }

  // How long the change of turn `k` may wait.
  std::string waits(int h, std::size_t k) const {
    for (const choose::Assignment& assignment : answer_.choice.assignments) {
      if (assignment.holder != h || k >= assignment.turns.size()) continue;
      const choose::PackTurn& turn = assignment.turns[k];
      return turn.last_safe_s >= turn.in_s + 60.0 ? "by " + clock_words(turn.last_safe_s) + " at the latest"
                                                  : "not later";
    }
    return {};
  }

  // On one line where it fits and nothing is to be said; else, in TOML, one line a pack.
  std::string in_list(const std::vector<Entry>& entries, decode::Place place) const {
    std::string line = "[";
    bool remarks = false;
    for (const Entry& entry : entries) {
      line += (line.size() > 1 ? ", " : "") + entry.text;
      remarks = remarks || !entry.remark.empty();
    }
    line += "]";
    if (json_ || entries.size() < 2 || (!remarks && place.column + columns(line) <= kWidth)) return line;
    std::string lines = "[\n";
    for (const Entry& entry : entries)
      lines += "  " + entry.text + "," + (entry.remark.empty() ? "" : "  # " + entry.remark) + "\n";
    return lines + "]";
  }

  void write_bays(const Node& table, const kit::ChargerItem& charger) {
    const Node* bays = table.find("bays");
    std::size_t used = bays == nullptr ? 0 : bays->children.size();
    for (std::size_t b = 0; b < charger.holders.size(); ++b) {
      if (!day_.holders[at(charger.holders[b])].slots.empty()) used = std::max(used, b + 1);
    }
    if (used == 0) return;
    std::string list = "[";
    for (std::size_t b = 0; b < used; ++b) {
      std::vector<Entry> entries = slots(charger.holders[b]);
      list += b == 0 ? "[" : ", [";
      for (std::size_t k = 0; k < entries.size(); ++k) list += (k == 0 ? "" : ", ") + entries[k].text;
      list += "]";
    }
    list += "]";
    if (bays != nullptr) {
      replace(*bays, list);
      return;
    }
    // After the kind, which every charger has: in a table of its own on the next line, within braces on the same.
    const Node& kind = *table.find("kind");
    std::size_t end = decode::value_end(text_, decode::offset_of(text_, kind.place));
    const bool braces = text_[decode::offset_of(text_, table.place)] == '{';
    if (!braces) end = std::min(text_.find_first_of("\r\n", end), text_.size());
    const std::string key = json_ ? ", \"bays\": " : braces ? ", bays = " : "\nbays = ";
    splices_.push_back({end, end, key + list});
  }

  void replace(const Node& list, std::string with) {
    const std::size_t begin = decode::offset_of(text_, list.place);
    if (text_.substr(begin, 1) != "[") throw std::logic_error("a list of packs does not stand where it was read");
    splices_.push_back({begin, decode::value_end(text_, begin), std::move(with)});
  }

  const std::string& text_;
  const decode::Document& document_;
  const ChooseAnswer& answer_;
  const day::Scenario& day_;
  bool json_;
  std::vector<decode::Splice> splices_;
};

bool same_slots(const day::Scenario& a, const day::Holder& in_a, const day::Scenario& b, const day::Holder& in_b) {
  const auto same_time = [](double x, double y) { return x == y || (std::isnan(x) && std::isnan(y)); };
  if (in_a.slots.size() != in_b.slots.size()) return false;
  for (std::size_t k = 0; k < in_a.slots.size(); ++k) {
    const double first_s = k == 0 ? a.periods.front().from_s : day::kAuto;
    const auto in_s = [&](const day::Slot& slot) { return std::isnan(slot.at_s) ? first_s : slot.at_s; };
    if (a.packs[at(in_a.slots[k].pack)].params.label != b.packs[at(in_b.slots[k].pack)].params.label ||
        !same_time(in_s(in_a.slots[k]), in_s(in_b.slots[k])) || !same_time(in_a.slots[k].out_s, in_b.slots[k].out_s))
      return false;
  }
  return true;
}

}  // namespace

std::string chosen_day(const std::string& text, const decode::Document& document, const ChooseAnswer& answer,
                       const std::vector<MeasuredOutcome>& as_draws) {
  Writer writer(text, document, answer);
  for (const MeasuredOutcome& gauge : as_draws) writer.write_as_draw(gauge);
  return writer.written();
}

bool same_as_chosen(DayFile written, const ChooseAnswer& answer) {
  const day::Scenario& judged = answer.choice.scenario;
  const day::Scenario& now = written.scenario;
  for (const day::Holder& holder : judged.holders) {
    const auto found = std::find_if(now.holders.begin(), now.holders.end(),
                                    [&](const day::Holder& other) { return other.name == holder.name; });
    const bool same = found == now.holders.end() ? holder.slots.empty() : same_slots(judged, holder, now, *found);
    if (!same) throw std::logic_error("\"" + holder.name + "\" was not written as it was chosen");
  }
  try {
    apply_measured(written);
  } catch (const decode::InputError&) {  // the readings no longer fall in one pack's turn
    return false;
  }
  bool same_draws = true;
  for (std::size_t d = 0; d < judged.devices.size(); ++d) {
    const double scale = judged.devices[d].scale;
    same_draws = same_draws && std::fabs(now.devices[d].scale - scale) <= kSameDraw * scale;
  }
  return same_draws;
}

std::string as_draw_words(const MeasuredOutcome& gauge, const day::Scenario& day) {
  return fmt::format(
      "The gauge readings at \"{}\" count for the packs they were read on. Written is the draw they come to: {:.3g} A "
      "at "
      "{} in \"{}\".",
      gauge.draw->at, gauge.amps, volts_words(gauge.draw->volts), day.periods[at(gauge.period)].name);
}

}  // namespace tillwrap::app
