// Runs a test once for each vector target of this machine.
#pragma once

#include <functional>

namespace samelight::render {

void OnEveryTarget(const std::function<void()>& body);

}  // namespace samelight::render
