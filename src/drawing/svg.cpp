#include <fmt/format.h>

#include "drawing/picture.hpp"

namespace tillwrap::drawing {

namespace {

std::string hex(Colour colour) { return fmt::format("#{:06x}", colour.rgb & 0xffffffU); }

// Two decimals, without trailing zeros.
std::string number(double value) {
  std::string text = fmt::format("{:.2f}", value);
  while (text.back() == '0') text.pop_back();
  if (text.back() == '.') text.pop_back();
  return text == "-0" ? "0" : text;
}

std::string dashes(const std::vector<double>& dash) {
  if (dash.empty()) return "";
  std::string list;
  for (const double length : dash) list += (list.empty() ? "" : " ") + number(length);
  return " stroke-dasharray=\"" + list + "\"";
}

std::string element(const Text& text) {
  std::string attributes =
      fmt::format(" x=\"{}\" y=\"{}\" font-size=\"{}\"", number(text.at.x), number(text.at.y), number(text.size));
  if (text.bold) attributes += " font-weight=\"700\"";
  if (text.anchor != Anchor::start)
    attributes += std::string(" text-anchor=\"") + (text.anchor == Anchor::middle ? "middle" : "end") + "\"";
  if (text.turned_deg != 0.0)
    attributes +=
        fmt::format(" transform=\"rotate({} {} {})\"", number(text.turned_deg), number(text.at.x), number(text.at.y));
  if (!(text.colour == kInk)) attributes += " fill=\"" + hex(text.colour) + "\"";
  // Another typeface may be wider: it is set to the measured width.
  if (text.words.size() > 1)
    attributes += fmt::format(" textLength=\"{}\" lengthAdjust=\"spacingAndGlyphs\"",
                              number(text_width(text.words, text.size, text.bold)));
  return "<text" + attributes + ">" + escaped(text.words) + "</text>\n";
}

std::string element(const Shape& shape, const std::string& id) {
  std::string points;
  for (const Point& p : shape.points) points += (points.empty() ? "" : " ") + number(p.x) + "," + number(p.y);
  std::string stroke = shape.stroke > 0.0 ? fmt::format(" stroke=\"{}\" stroke-width=\"{}\"{}", hex(shape.colour),
                                                        number(shape.stroke), dashes(shape.dash))
                                          : "";
  std::string fill = "none";
  if (shape.fill == Fill::plain) fill = hex(shape.fill_colour);
  if (shape.fill == Fill::hatch) fill = "url(#" + id + "hatch)";
  if (shape.fill == Fill::doubt) fill = "url(#" + id + "doubt)";
  return fmt::format("<{} points=\"{}\" fill=\"{}\"{}/>\n", shape.closed ? "polygon" : "polyline", points, fill,
                     stroke);
}

std::string element(const Circle& circle) {
  return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" fill=\"{}\" stroke=\"{}\" stroke-width=\"{}\"/>\n",
                     number(circle.centre.x), number(circle.centre.y), number(circle.radius),
                     circle.filled ? hex(circle.fill_colour) : "none", hex(circle.colour), number(circle.stroke));
}

}  // namespace

std::string escaped(std::string_view text) {
  std::string out;
  for (const char c : text) {
    if (c == '&') {
      out += "&amp;";
    } else if (c == '<') {
      out += "&lt;";
    } else if (c == '>') {
      out += "&gt;";
    } else if (c == '"') {
      out += "&quot;";
    } else {
      out += c;
    }
  }
  return out;
}

std::string svg_element(const Picture& picture, const std::string& title, const std::string& id) {
  std::string out = fmt::format(
      "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {0} {1}\" width=\"{0}\" height=\"{1}\" role=\"img\" "
      "font-family=\"DejaVu Sans, Verdana, sans-serif\" fill=\"{2}\">\n<title>{3}</title>\n<defs>"
      "<pattern id=\"{4}hatch\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"4\" stroke=\"#777777\" "
      "stroke-width=\"0.8\"/></pattern>"
      "<pattern id=\"{4}doubt\" width=\"3\" height=\"3\" patternUnits=\"userSpaceOnUse\" "
      "patternTransform=\"rotate(-45)\"><line x1=\"0\" y1=\"0\" x2=\"0\" y2=\"3\" stroke=\"{2}\" "
      "stroke-width=\"1.2\"/></pattern></defs>\n",
      number(picture.width), number(picture.height), hex(kInk), escaped(title), id);
  for (const Item& item : picture.items) {
    if (const auto* text = std::get_if<Text>(&item)) out += element(*text);
    if (const auto* shape = std::get_if<Shape>(&item)) out += element(*shape, id);
    if (const auto* circle = std::get_if<Circle>(&item)) out += element(*circle);
  }
  return out + "</svg>\n";
}

std::string svg(const Picture& picture, const std::string& title) {
  return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n" + svg_element(picture, title, "");
}

}  // namespace tillwrap::drawing
