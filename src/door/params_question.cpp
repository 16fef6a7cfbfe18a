#include "door/params_question.hpp"

#include "catalogue/catalogue.hpp"
#include "door/node_json.hpp"

namespace tillwrap::door {

app::Json params_question(decode::TableReader& question) {
  const std::string text = question.text("text");
  const decode::Document file = decode::read_toml_or_json(text, question.text_or("name", "the parameter file"));
  catalogue::read_cell(file);
  return {{"params", node_json(file.root)}};
}

}  // namespace tillwrap::door
