// Small pictures by photograph, kept as they are drawn.
#pragma once

#include <unordered_map>

#include <QtGui/QImage>

#include "base/ids.h"

namespace samelight::window {

// Main thread only.
class Thumbs {
 public:
  // The picture, or nullptr while it is being made; valid until the next Put() or Clear().
  const QImage* Get(PhotoId id) const {
    const auto it = kept_.find(id);
    return it == kept_.end() || it->second.isNull() ? nullptr : &it->second;
  }
  void Put(PhotoId id, QImage picture) { kept_[id] = std::move(picture); }
  void Clear() { kept_.clear(); }

 private:
  std::unordered_map<PhotoId, QImage> kept_;
};

}  // namespace samelight::window
