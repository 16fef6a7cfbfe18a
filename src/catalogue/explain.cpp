#include "catalogue/explain.hpp"

#include <algorithm>
#include <set>
#include <utility>

#include "catalogue/computed.hpp"
#include "catalogue/lists.hpp"
#include "catalogue/reading.hpp"
#include "catalogue/wording.hpp"

namespace tillwrap::catalogue {
namespace {

constexpr std::size_t kValueColumn = 26;

// Keys that are said in the heading or among the sources.
bool said_elsewhere(std::string_view key) {
  static const std::set<std::string_view> keys = {"id",   "title",   "note",  "source",
                                                  "mark", "checked", "valid", "sources"};
  return keys.contains(key);
}

std::string_view mark_wording(Mark mark) { return mark == Mark::secondary ? "secondary source" : mark_word(mark); }

// Numbers the sources of an entry as they come up.
class Footnotes {
 public:
  explicit Footnotes(const Entry& entry) : entry_(entry) {}

  std::string mark(std::string_view key) {
    const Provenance* p = &entry_.provenance;
    for (const auto& [name, own] : entry_.own_provenance) {
      if (name == key) p = &own;
    }
    auto it = std::find_if(used_.begin(), used_.end(), [&](const Provenance* q) {
      return q->source == p->source && q->mark == p->mark && q->checked == p->checked && q->valid == p->valid;
    });
    if (it == used_.end()) it = used_.insert(used_.end(), p);
    return "[" + std::to_string(it - used_.begin() + 1) + "]";
  }

  std::string text() const {
    std::string out;
    for (std::size_t i = 0; i < used_.size(); ++i) {
      const Provenance& p = *used_[i];
      std::string line = std::string(mark_wording(p.mark)) + ": " + p.source;
      if (!p.valid.empty()) line += "; valid " + p.valid;
      if (!p.checked.empty()) line += " (checked " + p.checked + ")";
      out += wrapped(line, padded("  [" + std::to_string(i + 1) + "]", 6) + " ", 7);
    }
    return out;
  }

 private:
  const Entry& entry_;
  std::vector<const Provenance*> used_;
};

class EntryText {
 public:
  EntryText(const Catalogue& catalogue, const Entry& entry) : catalogue_(catalogue), entry_(entry), notes_(entry) {}

  std::string text(std::string_view kind) {
    out_ = wrapped(entry_.title, entry_.id + ": ", 2);
    std::string about(kind);
    if (!entry_.aliases.empty()) about += ", also called";
    for (const std::string& alias : entry_.aliases) about += " " + alias;
    out_ += wrapped(about, "  ", 2);
    if (!entry_.note.empty()) out_ += wrapped(entry_.note, "  ", 2);
    out_ += "\n";
    for (const decode::Node& child : entry_.node->children) {
      if (!said_elsewhere(child.key) && child.key != "aliases") add(child, 2, child.key);
    }
    for (const Computed& c : computed(catalogue_, entry_)) line(c.label, c.value, 2, c.key);
    out_ += "\nWhere the numbers come from\n" + notes_.text();
    return std::move(out_);
  }

 private:
  void line(const std::string& label, const std::string& value, std::size_t indent, std::string_view source_key) {
    const std::string first = padded(std::string(indent, ' ') + label, kValueColumn - 1) + " ";
    out_ += wrapped(value + " " + notes_.mark(source_key), first, kValueColumn);
  }

  // `source_key`: the key at the top of the entry, by which sources are given.
  void add(const decode::Node& node, std::size_t indent, std::string_view source_key) {
    const bool tables =
        node.kind == decode::Kind::array && !node.children.empty() && node.children.front().kind == decode::Kind::table;
    if (node.kind == decode::Kind::table) {
      out_ += std::string(indent, ' ') + label_of(node.key) + "\n";
      for (const decode::Node& child : node.children) add(child, indent + 2, source_key);
    } else if (tables) {
      for (const decode::Node& item : node.children) {
        const decode::Node* name = item.find("name");
        out_ += std::string(indent, ' ') + label_of(node.key) + (name != nullptr ? " " + name->text : "") + "\n";
        for (const decode::Node& child : item.children) {
          if (child.key != "name") add(child, indent + 2, source_key);
        }
      }
    } else {
      line(label_of(node.key), value_of(node.key, node), indent, source_key);
    }
  }

  const Catalogue& catalogue_;
  const Entry& entry_;
  Footnotes notes_;
  std::string out_;
};

std::string overview(const Catalogue& catalogue) {
  std::string out = "The catalogue: generic classes, each number with its source.\n\n";
  for_each_list(catalogue, [&](const ListName& name, const auto& list) {
    std::string count = std::to_string(list.size());
    count.insert(0, 4 - std::min<std::size_t>(count.size(), 4), ' ');
    out += wrapped(name.contents, "  " + padded(std::string(name.plural), 12) + count + "  ", 20);
  });
  out += "\nA list:   tillwrap catalogue packs\nAn entry: tillwrap catalogue smart-pack-14v4-98wh\n";
  return out;
}

template <typename List>
std::string listing(const ListName& name, const List& list) {
  std::size_t column = 0;
  for (const Entry& entry : list) column = std::max(column, width(entry.id));
  std::string out = std::string(name.plural) + ": " + std::string(name.contents) + "\n\n";
  for (const Entry& entry : list) out += wrapped(entry.title, "  " + padded(entry.id, column) + "  ", column + 4);
  return out;
}

bool is_called(const Entry& entry, std::string_view id) {
  return entry.id == id || std::find(entry.aliases.begin(), entry.aliases.end(), id) != entry.aliases.end();
}

}  // namespace

std::optional<std::string> explain(const Catalogue& catalogue, std::string_view what) {
  if (what.empty()) return overview(catalogue);
  std::optional<std::string> out;
  for_each_list(catalogue, [&](const ListName& name, const auto& list) {
    if (out) return;
    if (what == name.plural || what == name.table) {
      out = listing(name, list);
      return;
    }
    for (const Entry& entry : list) {
      if (is_called(entry, what)) {
        out = EntryText(catalogue, entry).text(name.table);
        return;
      }
    }
  });
  return out;
}

std::string explain_cell(const CellKind& cell) { return EntryText(Catalogue{}, cell).text("cell"); }

std::string unknown_words(const Catalogue& catalogue, std::string_view what) {
  std::vector<std::string> known = kind_names();
  for_each_list(catalogue, [&](const ListName&, const auto& list) {
    for (const Entry& entry : list) {
      known.push_back(entry.id);
      known.insert(known.end(), entry.aliases.begin(), entry.aliases.end());
    }
  });
  const auto near = decode::nearest(what, known);
  return "the catalogue has no \"" + std::string(what.substr(0, 60)) + "\"; " +
         (near ? "did you mean \"" + *near + "\"? " : "") + "see the lists with: tillwrap catalogue";
}

}  // namespace tillwrap::catalogue
