#include "job/window_words.h"

#include <string_view>
#include <utility>

namespace samelight::job {
namespace {

using Pair = std::pair<std::string_view, std::string_view>;

// The key of an option in a note, and where that is said.
constexpr Pair kPlaces[] = {
    {" split=", "then let another roll begin at this scan, in its menu on the loom"},
    {" stock=", "then name the stock under Rolls and clocks in the session's menu"},
    {" join=", "if not, make it one light with its neighbour, in its menu on the loom"}};

// Parts of advice, and what they are in the window.
constexpr Pair kAdvice[] = {
    {"write over it with --again", "tick “also what is delivered already”"},
    {"choose one with --stock and --lab out of: ",
     "leave the name empty, and each becomes a look of its own: "},
    {"take stock with `samelight new`, then match again", "add its folder again, in the session's menu"},
    {"run `samelight match` on it first", "bring the session up to date first (U)"},
    {"see `samelight show SESSION` for their rolls, stocks and labs",
     "look at its rolls under Rolls and clocks"},
    {"check the name, or make it with `samelight new`", "check the name, or begin a new session (Ctrl N)"}};

}  // namespace

std::string NoteForWindow(const std::string& note) {
  const std::size_t option = note.find(" say --");
  const std::size_t end = option == std::string::npos ? option : note.rfind(';', option);
  if (end == std::string::npos) return note;
  const std::string_view said = std::string_view(note).substr(option);
  for (const auto& [key, where] : kPlaces)
    if (said.find(key) != std::string_view::npos) return note.substr(0, end) + "; " + std::string(where);
  return note.substr(0, end);
}

std::string TodoForWindow(std::string todo) {
  for (const auto& [there, here] : kAdvice)
    if (const std::size_t at = todo.find(there); at != std::string::npos)
      todo.replace(at, there.size(), here);
  if (todo.find('`') != std::string::npos || todo.find("--") != std::string::npos) return {};
  return todo;
}

Error ErrorForWindow(Error error) {
  error.todo = TodoForWindow(std::move(error.todo));
  return error;
}

Status StatusForWindow(const Status& status) {
  return status.ok() ? status : Status(ErrorForWindow(status.error()));
}

}  // namespace samelight::job
