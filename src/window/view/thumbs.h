// Small pictures by photograph, kept as they are drawn.
#pragma once

#include <functional>
#include <unordered_map>

#include <QtGui/QImage>

#include "base/ids.h"

namespace samelight::window {

// Main thread only.
class Thumbs {
 public:
  // Asked once for each missing picture; answers later through Put().
  using Ask = std::function<void(PhotoId)>;
  void SetAsk(Ask ask) { ask_ = std::move(ask); }
  // The picture, or nullptr while it is being made.
  const QImage* Get(PhotoId id) {
    auto [it, is_new] = kept_.try_emplace(id);
    if (is_new && ask_) ask_(id);
    return it->second.isNull() ? nullptr : &it->second;
  }
  // A null picture takes the place of one that cannot be made.
  void Put(PhotoId id, QImage picture) { kept_[id] = std::move(picture); }
  // Asked for again at the next Get().
  void Forget(PhotoId id) { kept_.erase(id); }
  void Clear() { kept_.clear(); }

 private:
  Ask ask_;
  std::unordered_map<PhotoId, QImage> kept_;
};

}  // namespace samelight::window
