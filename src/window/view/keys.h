// Every key of the window, in one list: the help sheet and the documentation are made from it.
#pragma once

#include <utility>
#include <vector>

#include <QtCore/QString>

namespace samelight::window {

struct KeyGroup {
  QString where;
  std::vector<std::pair<QString, QString>> keys;  // key, what it does
};
const std::vector<KeyGroup>& AllKeys();

}  // namespace samelight::window
