"""Shows that check.py can fail: each rule is broken once in a small tree, and a clean tree passes."""

import sys
import tempfile
import unittest
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
sys.dont_write_bytecode = True
import check  # noqa: E402


class Tree(unittest.TestCase):
    def findings(self, files):
        with tempfile.TemporaryDirectory() as folder:
            for name, text in files.items():
                path = Path(folder) / name
                path.parent.mkdir(parents=True, exist_ok=True)
                path.write_text(text, encoding="utf-8")
            return list(check.findings(folder))

    def assert_one(self, files, place, words):
        found = self.findings(files)
        self.assertEqual(len(found), 1, found)
        self.assertTrue(found[0].startswith(place + ": "), found[0])
        self.assertIn(words, found[0])

    def assert_none(self, files):
        self.assertEqual(self.findings(files), [])

    def test_clean_tree(self):
        self.assert_none({
            "src/quantity/maths.hpp": "#pragma once\n#include <cmath>\ninline double log(double x);\n"
                                      "inline double pow(double x, double y) { return exp(y * log(x)); }\n",
            "src/cell/cell.cpp": '#include "cell/cell.hpp"\n#include "quantity/maths.hpp"\n#include <vector>\n'
                                 "// std::exp( in a comment, std::chrono too\n"
                                 "double f(double x) { return maths::exp(x) + std::sqrt(x) + tillwrap::maths::log(x); }\n"
                                 'const char* g = "printf(";\n',
            "src/app/door.cpp": '#include <iostream>\n#include "catalogue/a.hpp"\n#include "cell/cell.hpp"\n',
            "README.md": "# One\n[two](docs/two.md#a-heading) [self](#one) [out](https://example.org) `[x](gone.md)`\n",
            "docs/two.md": "## A heading\n[back](../README.md)\n",
            "CMakeLists.txt": "tillwrap_library(cell USES tw_quantity)\ntillwrap_library(catalogue USES tw_decode tw_day fmt::fmt)\n",
        })

    def test_arrow_outwards(self):
        self.assert_one({"src/cell/a.cpp": '\n#include "wiring/network.hpp"\n'}, "src/cell/a.cpp:2", "may not include wiring")

    def test_arrow_across(self):
        self.assert_one({"src/forecast/a.cpp": '#include "catalogue/pack.hpp"\n'}, "src/forecast/a.cpp:1", "may not include")

    def test_nothing_includes_a_door(self):
        self.assert_one({"src/app/a.cpp": '#include "cli/args.hpp"\n'}, "src/app/a.cpp:1", "may not include")

    def test_arrow_hidden_by_a_bare_name(self):
        self.assert_one({"src/day/a.cpp": '#include "period.hpp"\n'}, "src/day/a.cpp:1", "folder/file.hpp")

    def test_unknown_folder(self):
        self.assert_one({"src/extra/a.cpp": "\n"}, "src/extra/a.cpp:1", "no place")

    def test_headers_of_the_outside_world(self):
        for header in ("fstream", "iostream", "sstream", "cstdio", "chrono", "thread", "mutex", "atomic", "random", "locale",
                       "ctime", "filesystem", "cstdlib", "unordered_map", "fmt/format.h", "unistd.h"):
            with self.subTest(header):
                self.assert_one({"src/day/a.hpp": f"#pragma once\n#include <{header}>\n"}, "src/day/a.hpp:2", header)

    def test_maths_of_the_c_library(self):
        for call in ("std::exp(x)", "std::log(x)", "std::pow(x, 2)", "std::sin(x)", "::asinh(x)", "exp(x)", "std::tanh (x)",
                     "std::fma(x, x, x)", "expf(x)"):
            with self.subTest(call):
                self.assert_one({"src/wiring/a.cpp": f"double f(double x) {{ return {call}; }}\n"}, "src/wiring/a.cpp:1", "maths::")

    def test_maths_header_may_not_fall_back(self):
        self.assert_one({"src/quantity/maths.hpp": "#pragma once\ninline double f(double x) { return std::exp(x); }\n"},
                        "src/quantity/maths.hpp:2", "maths::exp")

    def test_impure_names(self):
        for code in ('std::getenv("X")', "rand()", "std::random_device d", "std::chrono::steady_clock::now()", "printf(s)",
                     "std::cout << 1", "thread_local int n", "std::stod(s)", "std::time(nullptr)"):
            with self.subTest(code):
                self.assert_one({"src/forecast/a.cpp": f"\n{code};\n"}, "src/forecast/a.cpp:2", "may not use")

    def test_header_without_guard(self):
        self.assert_one({"src/app/a.hpp": "int f();\n"}, "src/app/a.hpp:1", "pragma once")

    def test_two_types_of_one_name(self):
        one = "#pragma once\nnamespace tillwrap::app {\nstruct Feed {\n  int a;\n};\n}\n"
        self.assert_one({"src/app/a.hpp": one, "src/app/b.hpp": "\n" + one}, "src/app/b.hpp:4", "defined in src/app/a.hpp too")
        # Other namespaces, unnamed ones, types within types, declarations: no clash.
        self.assert_none({
            "src/app/a.hpp": one,
            "src/day/a.hpp": one.replace("app", "day"),
            "src/app/c.cpp": "namespace tillwrap::app {\nnamespace {\nstruct Feed {\n};\n}\nstruct Feed;\n"
                             "struct Other {\n  struct Feed {\n  };\n};\nvoid f() {\n  struct Feed {\n  };\n}\n}\n",
        })

    def test_link_of_libraries(self):
        self.assert_one({"CMakeLists.txt": "\ntillwrap_library(cell USES tw_quantity tw_day)\n"}, "CMakeLists.txt:2", "rule says")

    def test_long_file(self):
        self.assert_one({"tests/a.py": "x = 1\n" * 601}, "tests/a.py:601", "at most 600")
        self.assert_none({"tests/a.py": "x = 1\n" * 600})

    def test_dead_link(self):
        self.assert_one({"docs/a.md": "\n[b](b.md)\n"}, "docs/a.md:2", "leads nowhere")

    def test_dead_anchor(self):
        self.assert_one({"docs/a.md": "# A\n[b](b.md#c)\n", "docs/b.md": "# B\n"}, "docs/a.md:2", "no heading #c")

    def test_broken_toml(self):
        self.assert_one({"examples/a.toml": "a = \n"}, "examples/a.toml:1", "not TOML")


if __name__ == "__main__":
    unittest.main()
