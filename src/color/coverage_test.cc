// Every function of the layer's headers must be tested against something, and every table must say where it
// is from.
#include <filesystem>
#include <regex>
#include <set>

#include "color/published_test.h"

namespace samelight::color {
namespace {

const std::string kSource = SAMELIGHT_SOURCE_DIR;
const std::string kTables = kSource + "/tests/published/";

std::string Whole(const std::filesystem::path& path) {
  std::ifstream file(path);
  std::stringstream text;
  text << file.rdbuf();
  return text.str();
}

// Names of the functions declared at the margin of the headers.
std::set<std::string> Declared() {
  const std::regex function(R"(^(?!//|struct|using|enum|class)[\w:<>&*, ]+[ &*]([A-Z]\w*)\()");
  std::set<std::string> names;
  for (const auto& entry : std::filesystem::directory_iterator(kSource + "/src/color")) {
    if (entry.path().extension() != ".h" || entry.path().stem().string().ends_with("_test")) continue;
    std::istringstream text(Whole(entry.path()));
    for (std::string line; std::getline(text, line);) {
      std::smatch match;
      if (std::regex_search(line, match, function)) names.insert(match[1]);
    }
  }
  return names;
}

std::set<std::string> RegisteredTests() {
  std::set<std::string> names;
  const auto& unit = *::testing::UnitTest::GetInstance();
  for (int s = 0; s < unit.total_test_suite_count(); ++s) {
    const auto& suite = *unit.GetTestSuite(s);
    for (int t = 0; t < suite.total_test_count(); ++t)
      names.insert(std::string(suite.name()) + "." + suite.GetTestInfo(t)->name());
  }
  return names;
}

TEST(Coverage, EveryFunctionHasALineAndEveryLineIsTrue) {
  const auto declared = Declared(), tests = RegisteredTests();
  ASSERT_GT(declared.size(), 30u);  // the pattern above still finds them
  std::set<std::string> covered;
  for (const Row& row : ReadTable(kTables + "coverage.csv")) {
    covered.insert(row.Text("function"));
    EXPECT_TRUE(declared.contains(row.Text("function"))) << "no such function: " << row.Text("function");
    EXPECT_TRUE(tests.contains(row.Text("test"))) << "no such test: " << row.Text("test");
    if (row.Text("table") != "-") {
      EXPECT_TRUE(std::filesystem::exists(kTables + row.Text("table"))) << row.Text("table");
    }
  }
  for (const std::string& name : declared)
    EXPECT_TRUE(covered.contains(name)) << name << " has no line in tests/published/coverage.csv";
}

TEST(Coverage, EveryTableNamesItsSource) {
  const std::string readme = Whole(kTables + "README.md");
  for (const auto& entry : std::filesystem::directory_iterator(kTables)) {
    const std::string name = entry.path().filename();
    if (entry.path().extension() == ".csv") {
      EXPECT_NE(readme.find("`" + name + "`"), std::string::npos)
          << name << " is not in tests/published/README.md";
    }
  }
}

}  // namespace
}  // namespace samelight::color
