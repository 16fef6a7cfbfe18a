// The sheet as a page for a screen, which prints too.
#include <fmt/format.h>

#include "sheet/sheet.hpp"

namespace tillwrap::sheet {

namespace {

using drawing::escaped;

constexpr const char* kStyle = R"(
:root { color-scheme: light dark; }
body { font: 16px/1.4 system-ui, "DejaVu Sans", sans-serif; margin: 0 auto; padding: 1rem; max-width: 70rem;
  background: #fff; color: #14120f; }
h1 { font-size: 1.1rem; font-weight: 400; margin: 0; }
.verdict { font-size: 1.9rem; font-weight: 700; line-height: 1.2; margin: .2rem 0; }
h2 { font-size: 1rem; border-bottom: 1px solid; margin: 1.4rem 0 .4rem; }
p { margin: .2rem 0; }
table { border-collapse: collapse; width: 100%; }
th { text-align: left; font-weight: 400; font-size: .85rem; opacity: .75; }
th, td { padding: .15rem .6rem .15rem 0; vertical-align: top; }
.number { text-align: right; }
.blank { border-bottom: 1px dotted; min-width: 4rem; }
ul { list-style: none; margin: 0; padding: 0; columns: 16rem; }
li { break-inside: avoid; padding: .2rem 0; }
input { width: 1.1rem; height: 1.1rem; vertical-align: -.15rem; margin: 0 .5rem 0 0; }
.scroll { overflow-x: auto; }
svg { max-width: 100%; height: auto; background: #fff; }
@media (min-width: 60rem) { main { display: grid; grid-template-columns: 1.1fr 1fr; column-gap: 2rem; }
  .wide { grid-column: 1 / -1; } }
@media (prefers-color-scheme: dark) { body { background: #000; color: #eee8da; } }
@media print { html { font-size: 8pt; } body { font: 1rem/1.25 system-ui, "DejaVu Sans", sans-serif; padding: 0;
    background: #fff; color: #000; }
  h2 { margin: .6rem 0 .2rem; break-after: avoid; } tr, svg { break-inside: avoid; } th, td, li { padding-block: .03rem; }
  ul { columns: auto; } p { margin: .1rem 0; }
  main { display: grid; grid-template-columns: 1.1fr 1fr; column-gap: 1rem; } .wide { grid-column: 1 / -1; } }
)";

}  // namespace

std::string html(const Sheet& sheet) {
  std::string out = fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" "
      "content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n"
      "<header>\n<h1>{}</h1>\n<p class=\"verdict\">{}</p>\n",
      escaped(sheet.title), kStyle, escaped(sheet.title), escaped(sheet.verdict));
  for (const std::string& line : sheet.under) out += "<p>" + escaped(line) + "</p>\n";
  out += "</header>\n<main>\n";
  int drawn = 0;
  int tick = 0;
  const auto part = [&](const Section& section, bool wide) {
    out += wide ? "<section class=\"wide\">\n" : "<section>\n";
    if (!section.title.empty()) out += "<h2>" + escaped(section.title) + "</h2>\n";
    for (const std::string& line : section.lines) out += "<p>" + escaped(line) + "</p>\n";
    if (!section.checks.empty()) {
      out += "<ul>\n";
      for (const Check& check : section.checks) {
        ++tick;
        out += fmt::format("<li><input type=\"checkbox\" id=\"t{0}\"><label for=\"t{0}\"><b>{1}</b> {2}</label></li>\n",
                           tick, escaped(check.label), escaped(check.rest));
      }
      out += "</ul>\n";
    }
    if (section.table) {
      out += "<div class=\"scroll\"><table>\n<thead><tr>";
      for (const Column& column : section.table->columns)
        out += fmt::format("<th{}>{}</th>", column.right ? " class=\"number\"" : "", escaped(column.title));
      out += "</tr></thead>\n<tbody>\n";
      for (const auto& row : section.table->rows) {
        out += "<tr>";
        for (std::size_t c = 0; c < row.size(); ++c) {
          const Column& column = section.table->columns[c];
          out += fmt::format("<td{}>{}</td>",
                             column.blank   ? " class=\"blank\""
                             : column.right ? " class=\"number\""
                                            : "",
                             escaped(row[c]));
        }
        out += "</tr>\n";
      }
      out += "</tbody>\n</table></div>\n";
    }
    if (section.figure) {
      ++drawn;
      out += drawing::svg_element(*section.figure, section.title, fmt::format("f{}", drawn));
    }
    out += "</section>\n";
  };
  for (const Section& section : sheet.sections) {
    if (section.where == Section::Where::top) part(section, true);
  }
  out += "<div>\n";
  for (const Section& section : sheet.sections) {
    if (section.where == Section::Where::left) part(section, false);
  }
  out += "</div>\n<div>\n";
  for (const Section& section : sheet.sections) {
    if (section.where == Section::Where::right) part(section, false);
  }
  out += "</div>\n";
  for (const Section& section : sheet.sections) {
    if (section.where == Section::Where::foot) part(section, true);
  }
  return out + "</main>\n</body>\n</html>\n";
}

}  // namespace tillwrap::sheet
