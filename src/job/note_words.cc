#include "job/note_words.h"

#include <string_view>
#include <utility>

namespace samelight::job {

std::string NoteForWindow(const std::string& note) {
  const std::size_t option = note.find(" say --");
  const std::size_t end = option == std::string::npos ? option : note.rfind(';', option);
  if (end == std::string::npos) return note;
  const std::string_view said = std::string_view(note).substr(option);
  constexpr std::pair<std::string_view, const char*> kPlaces[] = {
      {" split=", "then let another roll begin at this scan, in its menu on the loom"},
      {" stock=", "then name the stock under Rolls and clocks in the session's menu"},
      {" join=", "if not, make it one light with its neighbour, in its menu on the loom"}};
  for (const auto& [key, where] : kPlaces)
    if (said.find(key) != std::string_view::npos) return note.substr(0, end) + "; " + where;
  return note.substr(0, end);
}

}  // namespace samelight::job
