#include "window/model/instruments.h"

#include <algorithm>

namespace samelight::window {

Instruments::Instruments(DeskLink* link, QObject* parent) : QObject(parent), link_(link) {
  connect(link, &DeskLink::opened, this, [this] { SetFrame({}); });
  connect(link, &DeskLink::bookChanged, this, [this] {
    if (!trying_) Read();
    emit changed();
  });
  connect(link, &DeskLink::framesChanged, this, [this](const std::vector<PhotoId>& frames) {
    // Others of the light count too: their median is one of the values that a handle can go back to.
    if (frames.empty() || trying_) return;
    Read();
    emit changed();
  });
}

void Instruments::SetFrame(PhotoId frame) {
  if (frame == frame_ && link_->desk() != nullptr) return;
  trying_ = false;
  frame_ = frame;
  Read();
  emit frameChanged();
  emit changed();
}

record::Handles Instruments::touch() const {
  if (trying_ && correction_) return correction_->touch;
  return link_->desk() == nullptr ? record::Handles{} : link_->desk()->TouchOf(frame_);
}

void Instruments::Read() {
  const job::Desk* desk = link_->desk();
  correction_ = desk == nullptr ? std::nullopt : desk->CorrectionOf(frame_);
  handles_ = desk == nullptr ? std::vector<job::HandleValue>() : desk->Handles(frame_);
  Show();
}

void Instruments::Show() {
  const job::Desk* desk = link_->desk();
  regions_.clear();
  tone_ = {};
  if (desk == nullptr || !correction_) return;
  regions_ = desk->Regions(frame_, *correction_);
  tone_ = desk->Tone(frame_, *correction_);
  for (job::HandleValue& value : handles_) {
    value.touch = record::ValueOf(correction_->touch, value.handle);
    value.value = value.solved + value.touch;
    if (value.touch != 0) value.origin = job::Origin::kTouched;
  }
}

void Instruments::Try(const record::Handles& touch) {
  if (!correction_) return;
  if (!trying_) begun_ = correction_->touch;
  trying_ = true;
  correction_->touch = touch;
  Show();
  emit changed();
}

void Instruments::TryFollow(std::optional<record::RegionKind> region, double percent) {
  if (!correction_) return;
  if (!trying_) begun_ = correction_->touch;
  trying_ = true;
  const double share = std::clamp(percent, 0.0, 100.0) / 100;
  if (region == record::RegionKind::kFoliage) {
    correction_->follow_foliage = share;
  } else if (region == record::RegionKind::kSky) {
    correction_->follow_sky = share;
  } else if (region) {
    correction_->follow_skin = share;
  } else {
    if (correction_->follow_skin == correction_->follow) correction_->follow_skin = share;
    correction_->follow = share;
  }
  Show();
  emit changed();
}

std::vector<record::Handle> Instruments::TryDot(int row, double a, double b) {
  if (!correction_ || row < 0 || row >= static_cast<int>(regions_.size())) return {};
  // Always from where the drag began, so that the way back is the same as the way there.
  const record::Handles from = trying_ ? begun_ : correction_->touch;
  const std::optional<job::DotMove> move =
      link_->desk()->MoveDot(frame_, from, regions_[static_cast<std::size_t>(row)], a, b);
  if (!move) return {};
  Try(move->touch);
  return move->moved;
}

void Instruments::Keep() {
  if (!trying_) return;
  trying_ = false;
  link_->desk()->Touch(frame_, correction_->touch);
  Read();
  emit changed();
}

void Instruments::GiveUp() {
  if (!trying_) return;
  trying_ = false;
  Read();
  emit changed();
}

}  // namespace samelight::window
