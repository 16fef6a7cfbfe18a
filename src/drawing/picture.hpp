// A drawing on paper: shapes in order, lengths in points (1/72 inch), y down. One picture goes to SVG, to PDF and to
// the page, and is laid out with the same text widths everywhere.
#pragma once

#include <string>
#include <string_view>
#include <variant>
#include <vector>

namespace tillwrap::drawing {

struct Point {
  double x = 0.0;
  double y = 0.0;
};

// 0xRRGGBB.
struct Colour {
  unsigned rgb = 0x000000;
  friend bool operator==(const Colour&, const Colour&) = default;
};

inline constexpr Colour kInk{0x14120f};
inline constexpr Colour kGreyInk{0x5a5448};
inline constexpr Colour kPaper{0xffffff};

enum class Anchor { start, middle, end };

struct Text {
  Point at{};  // on the base line
  std::string words{};
  double size = 9.0;
  bool bold = false;
  Anchor anchor = Anchor::start;
  double turned_deg = 0.0;  // clockwise about `at`
  Colour colour = kInk;
};

// How a closed shape is filled; hatches stay apart in black and white.
enum class Fill { none, plain, hatch, doubt };

struct Shape {
  std::vector<Point> points{};
  bool closed = false;
  Fill fill = Fill::none;
  Colour fill_colour{0xffffff};
  double stroke = 0.0;  // line width; 0: none
  Colour colour = kInk;
  std::vector<double> dash{};
};

struct Circle {
  Point centre{};
  double radius = 1.0;
  bool filled = false;
  Colour fill_colour{0xffffff};
  double stroke = 0.8;
  Colour colour = kInk;
};

using Item = std::variant<Text, Shape, Circle>;

struct Picture {
  double width = 0.0;
  double height = 0.0;
  std::vector<Item> items{};

  void text(Point at, std::string words, double size, bool bold = false, Anchor anchor = Anchor::start,
            Colour colour = kInk);
  void turned(Point at, std::string words, double size, double turned_deg, bool bold = false);
  void line(Point from, Point to, double stroke = 0.6, std::vector<double> dash = {}, Colour colour = kInk);
  void box(Point corner, double wide, double tall, double stroke = 0.6, Fill fill = Fill::none,
           Colour fill_colour = kPaper, std::vector<double> dash = {}, Colour colour = kInk);
  void shape(Shape shape) { items.emplace_back(std::move(shape)); }
  void circle(Circle circle) { items.emplace_back(circle); }
  // Another picture with its top left corner at `corner`, scaled.
  void place(const Picture& other, Point corner, double scale = 1.0);
};

// Extent of everything drawn, text by its measured width.
struct Extent {
  double left = 0.0, top = 0.0, right = 0.0, bottom = 0.0;
};
Extent extent(const Item& item);

// Width of a line of text, points. Advance widths of DejaVu Sans, the typeface the pictures are set in (its font files,
// version 2.37); a character outside the table counts as one em.
double text_width(std::string_view utf8, double size, bool bold = false);

// Words broken into lines no wider than `width`; a word that is wider alone goes on over several, parted after a hyphen
// or the like where one stands well. Nothing is cut.
std::vector<std::string> wrapped(std::string_view utf8, double width, double size, bool bold = false);

// Cut with an ellipsis to `width`.
std::string fitted(std::string_view utf8, double width, double size, bool bold = false);

// Self-contained SVG 1.1.
std::string svg(const Picture& picture, const std::string& title);

// The same without the document around it, for a page that holds several; `id` keeps the hatches apart.
std::string svg_element(const Picture& picture, const std::string& title, const std::string& id);

// Text for XML and HTML.
std::string escaped(std::string_view text);

}  // namespace tillwrap::drawing
