// The power sheet: one page for the bag. Sections of plain content, laid out on paper of any size, or written as a
// self-contained HTML page. Knows nothing of batteries: the content is computed elsewhere.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "drawing/picture.hpp"

namespace tillwrap::sheet {

struct Column {
  std::string title;
  bool right = false;  // numbers
  bool blank = false;  // ruled space to write in
  double share = 1.0;  // of the width that is left over
};

struct Table {
  std::vector<Column> columns;
  std::vector<std::vector<std::string>> rows;
};

// Columns with nothing in any row go, but for those to write in.
void drop_empty_columns(Table& table);

// One thing to tick off.
struct Check {
  std::string label;  // bold
  std::string rest;
};

struct Section {
  std::string title;
  int rank = 0;  // 0 stays on every paper; higher ones are left out first where the paper is small
  enum class Where { top, left, right, foot } where = Where::left;
  std::vector<std::string> lines;  // sentences
  std::vector<Check> checks;
  std::optional<Table> table;
  std::optional<drawing::Picture> figure;
};

struct Sheet {
  std::string title;
  std::string verdict;             // the answer, large
  std::vector<std::string> under;  // sentences under it
  std::vector<Section> sections;
};

struct Paper {
  double width = 595.28;  // points
  double height = 841.89;
};
// "a4", "letter" (ANSI/ASME Y14.1, 8.5 x 11 in), "a6" (ISO 216); nothing for others.
std::optional<Paper> paper_named(const std::string& name);

struct Laid {
  drawing::Picture page;
  double size = 0.0;                  // of the body text, points
  std::vector<std::string> left_out;  // titles of sections the paper has no room for
};

// Everything on one page: body text as large as fits between 6 and 9.5 points; when 6 is not enough, sections go by
// rank, those that then have room again come back, and the page says which are gone. Words longer than their column are
// broken over lines.
Laid lay_out(const Sheet& sheet, const Paper& paper);

// A self-contained HTML document (no script, nothing fetched): for a phone's screen and for printing.
std::string html(const Sheet& sheet);

// One field of RFC 4180 CSV: quoted when needed, quotes doubled.
std::string csv_field(const std::string& text);

// Records as RFC 4180 CSV: the header, then the rows; blanks are empty.
std::string csv(const Table& table);

}  // namespace tillwrap::sheet
