// Which recipes an invented session is drawn from.
#pragma once

namespace samelight::simulate {

// kUsual: what the program was tuned on, bent by the seed. kUnseen: other stocks, cameras, lights and another
// lab, kept apart to show how far the tuning carries; nothing may be tuned on it.
enum class World { kUsual, kUnseen };

}  // namespace samelight::simulate
