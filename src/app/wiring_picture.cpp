#include "app/wiring_picture.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "app/findings_report.hpp"
#include "app/wiring_graph.hpp"

namespace tillwrap::app {

namespace {

using drawing::Anchor;
using drawing::Picture;
using drawing::Point;

constexpr drawing::Colour kDetailInk{0x525252};  // neutral: prints as it looks
constexpr double kTitle = 7.8;
constexpr double kSmall = 6.6;
constexpr double kPad = 5.0;
constexpr double kTitleRow = 11.0;
constexpr double kDetailRow = 8.4;
constexpr double kRow = 10.5;       // an output in its box
constexpr double kLabelRow = 22.0;  // text and marks over the lead, text under it
constexpr double kMark = 4.6;       // radius
constexpr double kMarkStep = 10.5;
constexpr double kPlug = 2.1;
constexpr double kHeavy = 1.7;
constexpr double kLight = 0.75;

std::size_t at(int i) { return static_cast<std::size_t>(i); }

double marks_width(const std::vector<int>& marks) { return kMarkStep * static_cast<double>(marks.size()); }

void draw_mark(Picture& picture, Point centre, int number) {
  picture.circle({.centre = centre, .radius = kMark, .filled = true, .fill_colour = drawing::kInk, .stroke = 0.0});
  picture.text({centre.x, centre.y + 2.2}, std::to_string(number), 6.2, true, Anchor::middle, drawing::kPaper);
}

// Locks: a filled square. Does not: an open circle.
void draw_plug(Picture& picture, Point centre, bool locks) {
  if (locks) {
    picture.box({centre.x - kPlug, centre.y - kPlug}, 2.0 * kPlug, 2.0 * kPlug, 0.6, drawing::Fill::plain,
                drawing::kInk);
  } else {
    picture.circle(
        {.centre = centre, .radius = kPlug + 0.3, .filled = true, .fill_colour = drawing::kPaper, .stroke = 0.9});
  }
}

std::string short_words(findings::Severity severity) {
  switch (severity) {
    case findings::Severity::stops:
      return "stops the day";
    case findings::Severity::harms:
      return "can hurt";
    case findings::Severity::costs:
      return "costs";
    case findings::Severity::note:
      return "worth knowing";
  }
  return "";
}

struct Drawn {
  WiringGraph graph;
  diagram::Graph shape;
  diagram::Layout layout;
};

double text_height(const WiringBox& box) {
  return 2.5 + kTitleRow + kDetailRow * static_cast<double>(box.details.size()) + 5.0;
}

Drawn drawn(const DayFile& file, const std::vector<findings::Finding>& found) {
  Drawn out{.graph = wiring_graph(file, found), .shape = {}, .layout = {}};
  std::vector<int> leaves(out.graph.boxes.size(), 0);
  for (const WiringLead& lead : out.graph.leads) ++leaves[at(lead.from)];
  for (std::size_t b = 0; b < out.graph.boxes.size(); ++b) {
    const WiringBox& box = out.graph.boxes[b];
    double width =
        drawing::text_width(box.title, kTitle, true) + marks_width(box.marks) + (box.marks.empty() ? 0.0 : 4.0);
    for (const std::string& line : box.details) width = std::max(width, drawing::text_width(line, kSmall));
    for (const WiringLead& lead : out.graph.leads) {
      if (at(lead.from) == b) width = std::max(width, drawing::text_width(lead.row, kSmall));
    }
    const bool rows = box.look == WiringBox::Look::box;
    out.shape.nodes.push_back(
        {.width = std::max(48.0, width + 2.0 * kPad + 4.0), .head = rows || leaves[b] == 0 ? text_height(box) : 0.0});
  }
  for (const WiringLead& lead : out.graph.leads) {
    const WiringBox& from = out.graph.boxes[at(lead.from)];
    const bool rows = from.look == WiringBox::Look::box;
    // A box without rows spreads its leads over its height.
    const double row = rows ? kRow : std::max(kRow, text_height(from) / leaves[at(lead.from)]);
    const double above = drawing::text_width(lead.above, kSmall) + marks_width(lead.marks);
    const double below = drawing::text_width(lead.below, kSmall);
    out.shape.edges.push_back({.from = lead.from,
                               .to = lead.to,
                               .from_row = row,
                               .to_row = lead.built_in ? kRow : kLabelRow,
                               .label_width = lead.built_in ? 0.0 : std::max(above, below)});
  }
  out.layout = diagram::lay_out(
      out.shape,
      {.between = 7.0, .passing = 8.0, .label_pad = 6.0, .least_channel = 16.0, .slope = 0.22, .most_channel = 44.0});
  return out;
}

Picture diagram_picture(const Drawn& d) {
  Picture picture{.width = d.layout.width + 2.0, .height = d.layout.height + 2.0};
  const double shift = 1.0;
  for (std::size_t k = 0; k < d.graph.leads.size(); ++k) {
    const WiringLead& lead = d.graph.leads[k];
    const diagram::Route& route = d.layout.edges[k];
    std::vector<Point> points;
    for (const diagram::Point& p : route.points) points.push_back({p.x + shift, p.y + shift});
    const std::vector<double> dash = lead.sometimes ? std::vector<double>{4.0, 2.5} : std::vector<double>{};
    const double stroke = lead.only ? kHeavy : kLight;
    if (lead.built_in) {  // contacts, not a lead: a double line
      for (const double off : {-1.5, 1.5}) {
        std::vector<Point> line = points;
        for (Point& p : line) p.y += off;
        picture.shape({.points = line, .stroke = lead.only ? 1.1 : kLight});
      }
    } else {
      picture.shape({.points = points, .stroke = stroke, .dash = dash});
    }
    if (lead.plug_from) draw_plug(picture, {points.front().x + kPlug + 0.8, points.front().y}, lead.locks_from);
    if (lead.plug_to) draw_plug(picture, {points.back().x - kPlug - 0.8, points.back().y}, lead.locks_to);
    if (lead.built_in) continue;
    const double y = points.back().y;
    double x = route.label.x + shift;
    for (const int number : lead.marks) {
      draw_mark(picture, {x + kMark, y - 1.5 - kMark}, number);
      x += kMarkStep;
    }
    picture.text({x, y - 2.4}, lead.above, kSmall);
    picture.text({route.label.x + shift, y + 7.2}, lead.below, kSmall, false, Anchor::start, kDetailInk);
  }
  for (std::size_t b = 0; b < d.graph.boxes.size(); ++b) {
    const WiringBox& box = d.graph.boxes[b];
    const diagram::Rect& r = d.layout.nodes[b];
    const double x = r.x + shift;
    const double y = r.y + shift;
    const bool source = box.look == WiringBox::Look::source;
    picture.box({x, y}, r.width, r.height, box.optional ? 0.6 : 1.2, drawing::Fill::plain, drawing::kPaper,
                source ? std::vector<double>{4.0, 2.5} : std::vector<double>{});
    // What the box is shows in its left edge: a bar for what holds packs, two for a distribution box.
    if (box.look == WiringBox::Look::pack) picture.line({x + 2.2, y + 2.2}, {x + 2.2, y + r.height - 2.2}, 1.6);
    if (box.look == WiringBox::Look::box)
      picture.line({x, y + kTitleRow + 2.5}, {x + r.width, y + kTitleRow + 2.5}, 0.6);
    const bool rows = box.look == WiringBox::Look::box;
    double line = rows ? y + 2.5 : y + 0.5 * (r.height - text_height(box)) + 2.5;
    line += 8.0;
    picture.text({x + kPad, line}, box.title, kTitle, true);
    double mark_x = x + r.width - 2.0 - kMark;
    for (auto number = box.marks.rbegin(); number != box.marks.rend(); ++number) {
      draw_mark(picture, {mark_x, line - 2.4}, *number);
      mark_x -= kMarkStep;
    }
    line += kTitleRow - kDetailRow + 0.6;
    for (const std::string& detail : box.details) {
      line += kDetailRow;
      picture.text({x + kPad, line}, detail, kSmall, false, Anchor::start, kDetailInk);
    }
    if (!rows) continue;
    for (std::size_t k = 0; k < d.graph.leads.size(); ++k) {
      if (at(d.graph.leads[k].from) != b) continue;
      const double pin_y = d.layout.edges[k].points.front().y + shift;
      picture.text({x + r.width - kPad, pin_y + 2.3}, d.graph.leads[k].row, kSmall, false, Anchor::end);
    }
  }
  return picture;
}

// Lines under the drawing: what runs alone, what the signs mean, what was found.
struct Foot {
  Picture picture;
};

Foot foot(const Drawn& d, const DayFile& file, const std::vector<findings::Finding>& found, double width, bool list) {
  Foot out;
  Picture& picture = out.picture;
  picture.width = width;
  double y = 0.0;
  if (!d.graph.alone.empty()) {
    std::string text = "On cells of their own: ";
    for (std::size_t i = 0; i < d.graph.alone.size(); ++i) text += (i > 0 ? ", " : "") + d.graph.alone[i];
    for (const std::string& line : drawing::wrapped(text, width, kSmall)) {
      y += 8.6;
      picture.text({0.0, y}, line, kSmall);
    }
    y += 3.0;
  }
  // Signs, in a row that breaks where it is full.
  double x = 0.0;
  y += 9.0;
  const auto sign = [&](double wide, const std::string& words, auto draw) {
    const double whole = wide + 4.0 + drawing::text_width(words, kSmall) + 12.0;
    if (x > 0.0 && x + whole > width) {
      x = 0.0;
      y += 9.4;
    }
    draw(x, y - 2.3);
    picture.text({x + wide + 4.0, y}, words, kSmall);
    x += whole;
  };
  sign(16.0, "nothing else feeds what must run", [&](double sx, double sy) {
    picture.line({sx, sy}, {sx + 16.0, sy}, kHeavy);
  });
  sign(16.0, "another feed, or can be spared", [&](double sx, double sy) {
    picture.line({sx, sy}, {sx + 16.0, sy}, kLight);
  });
  sign(16.0, "not there all day", [&](double sx, double sy) {
    picture.line({sx, sy}, {sx + 16.0, sy}, kLight, {4.0, 2.5});
  });
  sign(16.0, "contacts, no lead", [&](double sx, double sy) {
    picture.line({sx, sy - 1.5}, {sx + 16.0, sy - 1.5}, kLight);
    picture.line({sx, sy + 1.5}, {sx + 16.0, sy + 1.5}, kLight);
  });
  sign(5.0, "locks", [&](double sx, double sy) { draw_plug(picture, {sx + 2.5, sy}, true); });
  sign(5.0, "does not", [&](double sx, double sy) { draw_plug(picture, {sx + 2.5, sy}, false); });
  if (list && !found.empty()) {
    y += 5.0;
    const Wording wording(file.inventory.settings);
    const double column = 0.5 * (width - 12.0);
    const std::size_t half = (found.size() + 1) / 2;
    const double top = y;
    for (std::size_t n = 0; n < found.size(); ++n) {
      const double left = n < half ? 0.0 : column + 12.0;
      const double line = top + 11.2 * static_cast<double>(n < half ? n + 1 : n - half + 1);
      draw_mark(picture, {left + kMark, line - 2.4}, static_cast<int>(n) + 1);
      picture.text({left + 2.0 * kMark + 4.0, line},
                   drawing::fitted(finding_words(found[n], wording).title + " (" + short_words(found[n].severity) + ")",
                                   column - 2.0 * kMark - 4.0, kSmall),
                   kSmall);
      y = std::max(y, line);
    }
  }
  picture.height = y + 3.0;
  return out;
}

double scale_of(const Drawn& d, const DayFile& file, const std::vector<findings::Finding>& found,
                const WiringLook& look) {
  const double wide = look.width - 2.0 * look.margin;
  const double head = look.title ? 18.0 : 0.0;
  const double tall =
      look.height - 2.0 * look.margin - head - foot(d, file, found, wide, look.list).picture.height - 8.0;
  return std::min({1.25, wide / (d.layout.width + 2.0), tall / (d.layout.height + 2.0)});
}

Picture page(const Drawn& d, const DayFile& file, const std::vector<findings::Finding>& found, const WiringLook& look) {
  Picture picture{.width = look.width, .height = look.height};
  picture.box({0.0, 0.0}, look.width, look.height, 0.0, drawing::Fill::plain, drawing::kPaper);
  const double wide = look.width - 2.0 * look.margin;
  double top = look.margin;
  if (look.title) {
    const std::string title = file.scenario.title.empty() ? "Wiring" : file.scenario.title + ": wiring";
    picture.text({look.margin, top + 9.0}, drawing::fitted(title, wide, 11.0, true), 11.0, true);
    top += 18.0;
  }
  const Foot under = foot(d, file, found, wide, look.list);
  const double bottom = look.height - look.margin - under.picture.height;
  const double scale = scale_of(d, file, found, look);
  const double drawn_wide = scale * (d.layout.width + 2.0);
  const double drawn_tall = scale * (d.layout.height + 2.0);
  picture.place(diagram_picture(d),
                {look.margin + 0.5 * (wide - drawn_wide), top + 0.5 * std::max(0.0, bottom - 8.0 - top - drawn_tall)},
                scale);
  picture.place(under.picture, {look.margin, bottom});
  return picture;
}

}  // namespace

Picture wiring(const DayFile& file, const std::vector<findings::Finding>& found, const WiringLook& look) {
  return page(drawn(file, found), file, found, look);
}

std::string wiring_svg(const DayFile& file, const std::vector<findings::Finding>& found) {
  const Drawn d = drawn(file, found);
  WiringLook lying;
  WiringLook upright;
  std::swap(upright.width, upright.height);
  const bool turn = scale_of(d, file, found, upright) > scale_of(d, file, found, lying);
  const std::string title = file.scenario.title.empty() ? "Wiring" : file.scenario.title + ": wiring";
  return drawing::svg(page(d, file, found, turn ? upright : lying), title);
}

}  // namespace tillwrap::app
