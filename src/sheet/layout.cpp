// The sheet on paper.
#include <algorithm>
#include <cmath>

#include "sheet/sheet.hpp"

namespace tillwrap::sheet {

namespace {

using drawing::Anchor;
using drawing::Picture;

constexpr double kLargest = 9.5;
constexpr double kLeast = 6.0;
constexpr double kLeading = 1.28;     // line to line, of the size
constexpr double kGapSections = 0.9;  // of the size
constexpr double kMarginShare = 0.045;
constexpr double kLeastFigure = 12.0;  // of the size; a lower figure cannot be read

double widest_word(const std::string& words, double size) {
  double widest = 0.0;
  for (std::size_t begin = 0; begin < words.size();) {
    const std::size_t end = std::min(words.find(' ', begin), words.size());
    widest = std::max(widest, drawing::text_width(words.substr(begin, end - begin), size));
    begin = end + 1;
  }
  return widest;
}

// Draws into a column from the top down; with no picture it only measures.
class Flow {
 public:
  Flow(Picture* page, double left, double top, double width, double size)
      : page_(page), left_(left), y_(top), width_(width), size_(size) {}

  [[nodiscard]] double y() const { return y_; }
  void skip(double height) { y_ += height; }

  void sentence(const std::string& words, double size, bool bold = false) {
    for (const std::string& line : drawing::wrapped(words, width_, size, bold)) {
      y_ += size * kLeading;
      if (page_ != nullptr) page_->text({left_, y_ - 0.28 * size}, line, size, bold);
    }
  }

  void section(const Section& section, double most_figure) {
    y_ += kGapSections * size_;
    if (!section.title.empty()) {
      y_ += 1.3 * size_;
      if (page_ != nullptr) {
        page_->text({left_, y_ - 0.3 * size_}, section.title, 1.08 * size_, true);
        page_->line({left_, y_}, {left_ + width_, y_}, 0.7);
      }
      y_ += 0.25 * size_;
    }
    for (const std::string& line : section.lines) sentence(line, size_);
    if (!section.checks.empty()) checks(section.checks);
    if (section.table && !section.lines.empty()) y_ += 0.4 * size_;
    if (section.table) table(*section.table);
    if (section.figure) figure(*section.figure, most_figure);
  }

 private:
  // Boxes to tick, in as many columns as their longest entry allows.
  void checks(const std::vector<Check>& list) {
    const double tick = 1.5 * size_;
    double widest = 0.0;
    for (const Check& check : list)
      widest = std::max(
          widest, tick + drawing::text_width(check.label + " ", size_, true) + drawing::text_width(check.rest, size_));
    const auto across = std::clamp<std::size_t>(static_cast<std::size_t>(width_ / (widest + size_)), 1, 3);
    const std::size_t down = (list.size() + across - 1) / across;
    const double cell = width_ / static_cast<double>(across);
    const double step = size_ * 1.45;
    const double top = y_;
    std::size_t lines = 0;  // of entries above, in one column
    for (std::size_t i = 0; i < list.size(); ++i) {
      const double x = left_ + cell * static_cast<double>(i / down);
      const std::size_t line = across == 1 ? lines : i % down;
      const double base = top + step * static_cast<double>(line + 1) - 0.4 * size_;
      if (page_ != nullptr) page_->box({x, base - 0.78 * size_}, 0.9 * size_, 0.9 * size_, 0.7);
      lines += check(list[i], x + tick, base, cell - tick - 3.0, step);
    }
    y_ += step * static_cast<double>(across == 1 ? lines : down);
  }

  // One entry; what does not fit beside its label goes on below. Returns its lines.
  std::size_t check(const Check& entry, double x, double base, double width, double step) {
    const double label = drawing::text_width(entry.label + " ", size_, true);
    const bool beside = label <= 0.6 * width;
    const std::vector<std::string> labels =
        beside ? std::vector{entry.label} : drawing::wrapped(entry.label, width, size_, true);
    const std::vector<std::string> rest = drawing::wrapped(entry.rest, beside ? width - label : width, size_, false);
    const std::size_t below = beside ? 0 : labels.size();
    if (page_ != nullptr) {
      for (std::size_t k = 0; k < labels.size(); ++k)
        page_->text({x, base + step * static_cast<double>(k)}, labels[k], size_, true);
      for (std::size_t k = 0; k < rest.size(); ++k)
        page_->text({beside ? x + label : x, base + step * static_cast<double>(below + k)}, rest[k], size_);
    }
    return std::max<std::size_t>(below + rest.size(), 1);
  }

  void table(const Table& table) {
    const std::size_t n = table.columns.size();
    std::vector<double> wide(n, 0.0);
    std::vector<double> least(n, 0.0);  // no word is cut
    const double small = 0.88 * size_;
    for (std::size_t c = 0; c < n; ++c) {
      wide[c] = drawing::text_width(table.columns[c].title, small);
      least[c] = widest_word(table.columns[c].title, small);
      for (const auto& row : table.rows) {
        const double whole = drawing::text_width(row[c], size_);
        wide[c] = std::max(wide[c], whole);
        least[c] = std::max(least[c], table.columns[c].right ? whole : widest_word(row[c], size_));
      }
      if (table.columns[c].blank) wide[c] = least[c] = std::max(wide[c], 4.5 * size_);
    }
    const double between = 0.9 * size_;
    double needed = between * static_cast<double>(n - 1);
    double shares = 0.0;
    for (std::size_t c = 0; c < n; ++c) {
      needed += wide[c];
      shares += table.columns[c].share;
    }
    if (needed > width_) {  // the widest gives way, those that can be broken over lines first
      while (needed > width_ + 1e-6) {
        std::size_t most = n;
        for (std::size_t c = 0; c < n; ++c) {
          if (wide[c] > least[c] + 1e-6 && (most == n || wide[c] > wide[most])) most = c;
        }
        const bool breaks = most < n;
        // Then words are broken over lines; a number would be cut.
        for (const bool numbers : {false, true}) {
          for (std::size_t c = 0; c < n && (most == n || !breaks); ++c) {
            if (table.columns[c].right != numbers || table.columns[c].blank) continue;
            if (wide[c] > 3.0 * size_ && (most == n || wide[c] > wide[most])) most = c;
          }
          if (most < n) break;
        }
        if (most == n) most = static_cast<std::size_t>(std::max_element(wide.begin(), wide.end()) - wide.begin());
        double give = std::min(needed - width_, std::max(wide[most] * 0.1, 0.5));
        if (breaks) give = std::min(give, wide[most] - least[most]);
        wide[most] -= give;
        needed -= give;
      }
    } else if (shares > 0.0) {
      for (std::size_t c = 0; c < n; ++c) wide[c] += (width_ - needed) * table.columns[c].share / shares;
    }
    const auto cells = [&](const std::vector<std::string>& row, double size, bool heading) {
      // A cell may take several lines.
      std::vector<std::vector<std::string>> lines(n);
      std::size_t most = 1;
      for (std::size_t c = 0; c < n; ++c) {
        lines[c] = table.columns[c].right && !heading ? std::vector{drawing::fitted(row[c], wide[c] + 0.01, size)}
                                                      : drawing::wrapped(row[c], wide[c] + 0.01, size);
        most = std::max(most, lines[c].size());
      }
      double x = left_;
      for (std::size_t c = 0; c < n; ++c) {
        for (std::size_t k = 0; k < lines[c].size() && page_ != nullptr; ++k) {
          const double base = y_ + size * kLeading * static_cast<double>(k + 1) - 0.28 * size;
          const bool right = table.columns[c].right;
          page_->text({right ? x + wide[c] : x, base}, lines[c][k], size, false, right ? Anchor::end : Anchor::start,
                      heading ? drawing::kGreyInk : drawing::kInk);
        }
        if (!heading && table.columns[c].blank && row[c].empty() && page_ != nullptr)
          page_->line({x, y_ + size * kLeading}, {x + wide[c], y_ + size * kLeading}, 0.5, {1.0, 1.5});
        x += wide[c] + between;
      }
      y_ += size * kLeading * static_cast<double>(most) + 0.15 * size;
    };
    std::vector<std::string> titles;
    bool any = false;
    for (const Column& column : table.columns) {
      titles.push_back(column.title);
      any = any || !column.title.empty();
    }
    if (any) cells(titles, small, true);
    for (const auto& row : table.rows) cells(row, size_, false);
  }

  void figure(const Picture& picture, double most_height) {
    const double scale = std::min(width_ / picture.width, most_height / picture.height);
    y_ += 0.4 * size_;
    if (page_ != nullptr) page_->place(picture, {left_ + 0.5 * (width_ - scale * picture.width), y_}, scale);
    y_ += scale * picture.height;
  }

  Picture* page_;
  double left_;
  double y_;
  double width_;
  double size_;
};

struct Plan {
  bool fits = false;
  double used = 0.0;
};

// One try: all sections in `kept`, body text of `size`. Draws when `page` is given.
Plan attempt(const Sheet& sheet, const std::vector<const Section*>& kept, const std::vector<std::string>& left_out,
             const Paper& paper, double size, Picture* page) {
  const double margin = kMarginShare * paper.width;
  const double width = paper.width - 2.0 * margin;
  const double bottom = paper.height - margin;
  Flow head(page, margin, margin - 0.3 * size, width, size);
  head.sentence(sheet.title, 1.25 * size);
  head.sentence(sheet.verdict, 2.1 * size, true);
  for (const std::string& line : sheet.under) head.sentence(line, 1.1 * size);
  const auto all = [&](Section::Where where, double left, double top, double wide, double most_figure, Picture* on) {
    Flow flow(on, left, top, wide, size);
    for (const Section* section : kept) {
      if (section->where == where) flow.section(*section, most_figure);
    }
    return flow.y();
  };
  const auto has = [&](Section::Where where) {
    return std::any_of(kept.begin(), kept.end(), [&](const Section* section) { return section->where == where; });
  };
  double y = all(Section::Where::top, margin, head.y(), width, 0.3 * paper.height, page);
  // The foot is measured, then set at the bottom.
  const double foot_top = 0.0;
  double foot = all(Section::Where::foot, margin, foot_top, width, 0.2 * paper.height, nullptr) - foot_top;
  std::string apology;
  for (const std::string& title : left_out) apology += (apology.empty() ? "" : ", ") + title;
  if (!apology.empty()) apology = "Not on this paper: " + apology + ". See the larger sheet.";
  const double apology_lines =
      apology.empty() ? 0.0 : static_cast<double>(drawing::wrapped(apology, width, 0.9 * size).size());
  foot += apology_lines * 0.9 * size * kLeading;
  const double room = bottom - foot - y;
  // Side by side where the paper is wide enough for both; otherwise one under the other.
  const bool beside = paper.width > 400.0 && has(Section::Where::left) && has(Section::Where::right);
  const double between = 1.6 * size;
  double used = 0.0;
  if (beside) {
    const double left_width = 0.53 * (width - between);
    const double right_width = width - between - left_width;
    const auto figures = static_cast<double>(std::count_if(kept.begin(), kept.end(), [](const Section* section) {
      return section->where == Section::Where::right && section->figure;
    }));
    // Figures on the right share what its words leave.
    Flow words(nullptr, 0.0, 0.0, right_width, size);
    for (const Section* section : kept) {
      if (section->where != Section::Where::right) continue;
      Section plain = *section;
      plain.figure.reset();
      words.section(plain, 0.0);
    }
    const double each = figures > 0.0 ? std::max(0.0, room - words.y() - 0.5 * size * figures) / figures : 0.0;
    double most_figure = each;
    // A figure that is wide and low leaves its share to the others.
    double spare = 0.0;
    double tall = 0.0;
    for (const Section* section : kept) {
      if (section->where != Section::Where::right || !section->figure) continue;
      const double natural = right_width / section->figure->width * section->figure->height;
      if (natural < each) {
        spare += each - natural;
      } else {
        tall += 1.0;
      }
    }
    if (tall > 0.0) most_figure += spare / tall;
    if (each < kLeastFigure * size && figures > 0.0) return {};
    const double left_end = all(Section::Where::left, margin, y, left_width, 0.5 * room, page);
    const double right_end =
        all(Section::Where::right, margin + left_width + between, y, right_width, most_figure, page);
    used = std::max(left_end, right_end) - y;
  } else {
    const double after = all(Section::Where::left, margin, y, width, 0.4 * room, page);
    const double most_figure = y + room - after - 3.0 * size;
    const bool figures = std::any_of(kept.begin(), kept.end(), [](const Section* section) {
      return section->where == Section::Where::right && section->figure;
    });
    if (figures && most_figure < kLeastFigure * size) return {};
    used = all(Section::Where::right, margin, after, width, std::max(0.0, most_figure), page) - y;
  }
  const double foot_at = bottom - foot;
  const double after = all(Section::Where::foot, margin, foot_at, width, 0.2 * paper.height, page);
  if (!apology.empty()) {
    Flow flow(page, margin, after, width, size);
    flow.sentence(apology, 0.9 * size);
  }
  return {.fits = used <= room + 1e-6, .used = used};
}

}  // namespace

std::optional<Paper> paper_named(const std::string& name) {
  if (name == "a4") return Paper{595.28, 841.89};
  if (name == "letter") return Paper{612.0, 792.0};
  if (name == "a6") return Paper{297.64, 419.53};
  return std::nullopt;
}

Laid lay_out(const Sheet& sheet, const Paper& paper) {
  std::vector<const Section*> kept;
  for (const Section& section : sheet.sections) kept.push_back(&section);
  std::vector<std::string> left_out;
  const auto fits = [&](double size) { return attempt(sheet, kept, left_out, paper, size, nullptr).fits; };
  const auto drawn = [&](double size) {
    Laid laid{.page = {.width = paper.width, .height = paper.height, .items = {}}, .size = size, .left_out = left_out};
    attempt(sheet, kept, left_out, paper, size, &laid.page);
    return laid;
  };
  // What went before something larger did, and has room now that that is gone, comes back.
  std::vector<const Section*> gone;
  const auto bring_back = [&](double size) {
    for (std::size_t k = gone.size(); k-- > 0;) {
      const std::vector<const Section*> without = kept;
      const std::vector<std::string> said = left_out;
      const auto after = std::find_if(kept.begin(), kept.end(), [&](const Section* one) { return one > gone[k]; });
      kept.insert(after, gone[k]);
      left_out.erase(std::find(left_out.begin(), left_out.end(), gone[k]->title));
      if (fits(size)) continue;
      kept = without;
      left_out = said;
    }
  };
  for (;;) {
    for (double size = kLargest; size >= kLeast - 1e-9; size -= 0.25) {
      if (!fits(size)) continue;
      bring_back(size);
      return drawn(size);
    }
    const auto least = std::max_element(kept.begin(), kept.end(),
                                        [](const Section* a, const Section* b) { return a->rank < b->rank; });
    if (least == kept.end() || (*least)->rank == 0) break;
    left_out.push_back((*least)->title);
    gone.push_back(*least);
    kept.erase(least);
  }
  // Even what must stay is too long for the paper: smaller letters rather than a cut-off line.
  double size = kLeast;
  while (size > 1.0 && !fits(size)) size *= 0.95;
  return drawn(size);
}

}  // namespace tillwrap::sheet
