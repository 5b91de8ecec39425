#include "window/model/instruments.h"

#include <algorithm>
#include <cmath>

namespace samelight::window {
namespace {

// What is not known (NaN) is as unknown as before.
bool Same(double a, double b) { return a == b || (std::isnan(a) && std::isnan(b)); }
bool Same(const job::RegionRow& a, const job::RegionRow& b) {
  return a.kind == b.kind && a.face == b.face && a.name == b.name && a.has_scan == b.has_scan &&
         a.lab_scan == b.lab_scan && a.lab_frame == b.lab_frame && a.lab_before == b.lab_before &&
         Same(a.before, b.before) && Same(a.now, b.now) && a.tolerance == b.tolerance && a.words == b.words;
}
bool Same(const job::HandleValue& a, const job::HandleValue& b) {
  return a.handle == b.handle && a.value == b.value && a.solved == b.solved && a.of_light == b.of_light &&
         a.touch == b.touch && a.origin == b.origin && a.sigma == b.sigma;
}
bool Same(const job::ToneCurves::Grip& a, const job::ToneCurves::Grip& b) {
  return a.handle == b.handle && a.ev == b.ev && Same(a.density, b.density);
}
template <typename T>
bool Same(const std::vector<T>& a, const std::vector<T>& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(),
                    [](const T& x, const T& y) { return Same(x, y); });
}
bool Same(const job::ToneCurves& a, const job::ToneCurves& b) {
  return a.scan_measured == b.scan_measured && Same(a.ev, b.ev) && Same(a.frame, b.frame) &&
         Same(a.before, b.before) && Same(a.scan, b.scan) && Same(a.grips, b.grips);
}

}  // namespace

Instruments::Instruments(DeskLink* link, QObject* parent) : QObject(parent), link_(link) {
  connect(link, &DeskLink::opened, this, [this] { SetFrame({}); });
  // Others of the light count too: their median is one of the values that a handle can go back to.
  connect(link, &DeskLink::bookChanged, this, &Instruments::ReadAgain);
  connect(link, &DeskLink::framesChanged, this, &Instruments::ReadAgain);
}

void Instruments::ReadAgain() {
  if (trying_) return;
  const auto correction = correction_;
  const auto regions = regions_;
  const auto tone = tone_;
  const auto handles = handles_;
  Read();
  if (correction == correction_ && Same(regions, regions_) && Same(tone, tone_) && Same(handles, handles_))
    return;
  emit changed();
}

void Instruments::SetFrame(PhotoId frame) {
  if (frame == frame_ && link_->desk() != nullptr) return;
  if (link_->desk() != nullptr && frame_.valid()) {  // else its session is gone
    emit leaving();
    Keep();
  }
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
  standing_ = desk == nullptr ? std::vector<job::HandleValue>() : desk->Handles(frame_);
  Show();
}

void Instruments::Show() {
  const job::Desk* desk = link_->desk();
  regions_.clear();
  tone_ = {};
  handles_ = standing_;
  if (desk == nullptr || !correction_) return;
  regions_ = desk->Regions(frame_, *correction_);
  tone_ = desk->Tone(frame_, *correction_);
  for (job::HandleValue& value : handles_) {
    value.touch = record::ValueOf(correction_->touch, value.handle);
    value.value = value.solved + value.touch;
    if (value.touch != 0) value.origin = job::Origin::kTouched;
  }
}

void Instruments::Begin() {
  if (!trying_) begun_ = correction_->touch;
  trying_ = true;
}

void Instruments::Try(const record::Handles& touch) {
  if (!correction_) return;
  Begin();
  correction_->touch = touch;
  Show();
  emit changed();
}

void Instruments::TryFollow(std::optional<record::RegionKind> region, double percent) {
  if (!correction_) return;
  Begin();
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

void Instruments::TryState(const std::string& name) {
  const std::optional<record::Correction> state =
      link_->desk() == nullptr ? std::nullopt : link_->desk()->CorrectionOfState(frame_, name);
  if (!correction_ || !state) return;
  Begin();
  correction_ = state;
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
