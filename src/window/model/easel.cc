#include "window/model/easel.h"

#include <algorithm>
#include <cmath>
#include <utility>

#include "window/model/easel_words.h"
#include "window/model/framing.h"

namespace samelight::window {
namespace {

constexpr double kGap = 10, kAbove = 14;  // px between and around pictures
constexpr std::size_t kMostPanes = 4;
constexpr int kOverSlot = 8, kCameraSlot = 9;
constexpr double kLeastZoom = 0.02, kMostZoom = 8;

}  // namespace

Easel::Easel(DeskLink* link, Hand* hand, Instruments* instruments, QObject* parent)
    : QObject(parent), link_(link), hand_(hand), instruments_(instruments) {
  connect(hand, &Hand::changed, this, &Easel::Rebuild);
  connect(link, &DeskLink::pictureMade, this, &Easel::Take);
  connect(instruments, &Instruments::changed, this, [this] {
    for (std::size_t i = 0; i < panes_.size(); ++i)
      if (panes_[i].stand == Stand::kFrame) Ask(static_cast<int>(i), panes_[i]);
  });
  connect(link, &DeskLink::framesChanged, this, [this](const std::vector<PhotoId>& frames) {
    // Matched places may have come, and the neighbour may look different.
    const auto linked = [this] { return std::pair(frame_from_scan_.places, neighbour_from_frame_.places); };
    const auto was = linked();
    Link();
    if (linked() != was) return AskAll();
    const std::vector<QPointF> cut = CutOfFrame(hand_->frame());
    if (std::exchange(cut_, cut) != cut) emit laidOut();
    for (std::size_t i = 0; i < panes_.size(); ++i)
      if (panes_[i].stand == Stand::kNeighbour &&
          std::find(frames.begin(), frames.end(), panes_[i].photo) != frames.end())
        Ask(static_cast<int>(i), panes_[i]);
  });
}

const record::Photo* Easel::Photo(PhotoId id) const {
  const std::shared_ptr<const job::Book> book = link_->book();
  if (const job::FrameRow* row = book->Frame(id)) return &row->photo;
  if (const job::ScanRow* row = book->Scan(id)) return &row->photo;
  return nullptr;
}

Easel::Pane* Easel::Main() {
  for (Pane& pane : panes_)
    if (pane.stand == Stand::kFrame) return &pane;
  return panes_.empty() ? nullptr : &panes_.front();
}

void Easel::Rebuild() {
  const std::shared_ptr<const job::Book> book = link_->book();
  std::vector<Pane> before = std::move(panes_);
  panes_.clear();
  const auto add = [&](Stand stand, PhotoId photo, QStringList words) {
    Pane pane;
    pane.stand = stand;
    pane.photo = photo;
    pane.words = std::move(words);
    // The same picture stays on the screen until it is made anew.
    for (Pane& old : before)
      if (old.stand == stand && old.photo == photo) pane.shown = std::move(old.shown);
    panes_.push_back(std::move(pane));
  };
  const job::FrameRow* frame = book->Frame(hand_->frame());
  const job::ScanRow* scan = book->Scan(hand_->scan());
  const PhotoId neighbour = hand_->Neighbour();
  const job::FrameRow* beside = book->Frame(neighbour);
  if (scan) add(Stand::kScan, scan->photo.id, ScanWords(*book, *scan, hand_->own_scan() || !frame));
  // Without any film of its light a frame is judged beside a settled one.
  const auto add_neighbour = [&] {
    add(Stand::kNeighbour, neighbour, FrameWords(*beside, tr("settled neighbour")));
  };
  if (frame && !scan && beside) add_neighbour();
  if (frame) add(Stand::kFrame, frame->photo.id, FrameWords(*frame, tr("frame")));
  if (frame && scan && beside && neighbour_) add_neighbour();
  if (frame && camera_stands_)
    add(Stand::kCamera, frame->photo.id, FrameWords(*frame, tr("as the camera made it")));
  if (scan && !frame)
    for (const record::PairCandidate& other : scan->pair.alternatives)
      if (const job::FrameRow* may_be = book->Frame(other.frame); may_be && panes_.size() < kMostPanes)
        add(Stand::kCandidate, other.frame, FrameWords(*may_be, CandidateWords(other)));
  over_ = {};
  camera_ = {};
  cut_ = CutOfFrame(hand_->frame());
  Link();
  Place();
}

void Easel::SetRoom(double width, double height, double words, double ratio) {
  width_ = width;
  height_ = height;
  words_ = words;
  ratio_ = ratio;
  Place();
}

void Easel::SetWay(Way way) {
  way_ = way;
  want_over_ = way == Way::kWipe;
  Place();
}

void Easel::SetStanding(Stand stand, bool on) {
  if (stand == Stand::kNeighbour) neighbour_ = on;
  if (stand == Stand::kCamera) camera_stands_ = on;
  Rebuild();
}

bool Easel::Stands(Stand stand) const {
  return std::any_of(panes_.begin(), panes_.end(), [&](const Pane& pane) { return pane.stand == stand; });
}

void Easel::SetMarks(bool on) {
  marks_ = on;
  AskAll();
}

Status Easel::SetSoftProof(bool on, const std::vector<std::uint8_t>& icc) {
  Status set = link_->pictures().SetSoftProof(on, icc);
  if (!set.ok()) return set;
  soft_proof_ = on;
  AskAll();
  emit laidOut();
  return {};
}

std::vector<QPointF> Easel::CutOfFrame(PhotoId frame) const {
  const job::FrameRow* row = link_->book()->Frame(frame);
  if (!row || !link_->desk()) return {};
  const record::Framing framing = link_->desk()->FramingOf(frame);
  if (record::Whole(framing)) return {};
  const std::array<QPointF, 4> corners = CutOf(framing, row->photo.width_px, row->photo.height_px);
  return {corners.begin(), corners.end()};
}

void Easel::WantOver(bool on) {
  want_over_ = on || way_ == Way::kWipe;
  if (want_over_ && over_.shown.empty()) AskAll();
}

void Easel::WantCamera(bool on) {
  want_camera_ = on;
  if (on && camera_.shown.empty()) AskAll();
}

// Where the panes lie: pictures of one height in a row, each as wide as it needs, kept to the room between
// the words. Zoomed in, they share that room evenly.
void Easel::Place() {
  std::vector<Pane*> seen;
  for (Pane& pane : panes_)
    if (way_ == Way::kSide || &pane == Main()) seen.push_back(&pane);
  for (Pane& pane : panes_) pane.box = {};
  if (!seen.empty() && width_ > 2 * words_ && height_ > 2 * kAbove) {
    const double above = seen.size() > 2 ? kAbove + 20 : kAbove;
    const double room_h = height_ - above - kAbove;
    const double room_w = width_ - 2 * words_ - kGap * static_cast<double>(seen.size() - 1);
    double aspects = 0;
    std::vector<double> aspect;
    for (const Pane* pane : seen) {
      const record::Photo* photo = Photo(pane->photo);
      const double a = photo && photo->width_px > 0 && photo->height_px > 0
                           ? static_cast<double>(photo->width_px) / photo->height_px
                           : 1.5;
      aspect.push_back(fits_ ? a : room_w / static_cast<double>(seen.size()) / room_h);
      aspects += aspect.back();
    }
    const double h = std::floor(std::min(room_h, room_w / aspects));
    double total = kGap * static_cast<double>(seen.size() - 1);
    for (const double a : aspect) total += std::floor(h * a);
    double x = std::floor((width_ - total) / 2);
    const double y = std::floor(above + (room_h - h) / 2);
    for (std::size_t i = 0; i < seen.size(); ++i) {
      const double w = std::floor(h * aspect[i]);
      seen[i]->box = QRectF(x, y, w, h);
      x += w + kGap;
    }
  }
  AskAll();
  emit laidOut();
}

void Easel::Laid::Fit(std::shared_ptr<const record::Correspondence> matched, const record::Photo* a,
                      const record::Photo* b) {
  if (matched == places) return;
  places = std::move(matched);
  b_from_a.reset();
  if (places && a && b)
    b_from_a = preview::FitSimilarity(*places, a->width_px, a->height_px, b->width_px, b->height_px);
}

void Easel::Link() {
  const auto matched = [this](PhotoId a, PhotoId b) {
    return link_->desk() && a.valid() && b.valid() ? link_->desk()->Matched(a, b) : nullptr;
  };
  const PhotoId scan = hand_->scan(), frame = hand_->frame();
  frame_from_scan_.Fit(matched(scan, frame), Photo(scan), Photo(frame));
  PhotoId neighbour;
  for (const Pane& pane : panes_)
    if (pane.stand == Stand::kNeighbour) neighbour = pane.photo;
  neighbour_from_frame_.Fit(matched(frame, neighbour), Photo(frame), Photo(neighbour));
}

std::optional<preview::Similarity> Easel::MainFrom(const Pane& pane) const {
  if (pane.stand == Stand::kScan) return frame_from_scan_.b_from_a;
  if (pane.stand == Stand::kNeighbour && neighbour_from_frame_.b_from_a)
    return preview::Inverse(*neighbour_from_frame_.b_from_a);
  return std::nullopt;
}

double Easel::zoom() const {
  for (const Pane& pane : panes_)
    if (pane.stand == Stand::kFrame || panes_.size() == 1) return pane.view.zoom;
  return panes_.empty() ? 1 : panes_.front().view.zoom;
}

void Easel::Fit() {
  fits_ = true;
  Place();
}

void Easel::ZoomTo(double zoom, int pane, QPointF at) {
  if (pane < 0 || pane >= static_cast<int>(panes_.size())) return;
  Pane* main = Main();
  if (!main || panes_[pane].box.isEmpty()) return;
  const double now = fits_ ? main->view.zoom : main_view_.zoom;
  const double wanted = std::clamp(zoom, kLeastZoom, kMostZoom);
  // The place under the pointer, told on the frame.
  if (fits_) {
    fits_ = false;
    const QRectF box = panes_[pane].box;
    const preview::Point in_pane = preview::PictureFromOutput(
        panes_[pane].view, static_cast<int>(box.width() * ratio_), static_cast<int>(box.height() * ratio_),
        {at.x() * ratio_, at.y() * ratio_});
    preview::Point on_main = in_pane;
    const record::Photo *own = Photo(panes_[pane].photo), *of_main = Photo(main->photo);
    const std::optional<preview::Similarity> laid = MainFrom(panes_[pane]);
    if (laid && main->stand == Stand::kFrame)
      on_main = preview::Map(*laid, in_pane);
    else if (own && of_main && panes_[pane].photo != main->photo)
      on_main = {in_pane.x / own->width_px * of_main->width_px,
                 in_pane.y / own->height_px * of_main->height_px};
    main_view_ = {on_main, wanted, 0, false};
    Place();
    return;
  }
  const QRectF box = panes_[pane].box;
  main_view_ = preview::Zoomed(main_view_, static_cast<int>(box.width() * ratio_),
                               static_cast<int>(box.height() * ratio_), {at.x() * ratio_, at.y() * ratio_},
                               wanted / now);
  AskAll();
  emit laidOut();
}

void Easel::ZoomBy(double factor, int pane, QPointF at) {
  if (panes_.empty()) return;
  const double wanted = zoom() * factor;
  // Smaller than the whole is the whole.
  const Pane* main = Main();
  const record::Photo* photo = main ? Photo(main->photo) : nullptr;
  if (factor < 1 && photo && wanted * photo->width_px < main->box.width() * ratio_ * 0.9 &&
      wanted * photo->height_px < main->box.height() * ratio_ * 0.9)
    return Fit();
  ZoomTo(wanted, pane, at);
}

void Easel::Pan(int, QPointF by) {
  if (fits_) return;
  main_view_ = preview::Panned(main_view_, by.x() * ratio_, by.y() * ratio_);
  AskAll();
  emit laidOut();
}

void Easel::AskAll() {
  Pane* main = Main();
  if (!main) return;
  const record::Photo* of_main = Photo(main->photo);
  if (!of_main) return;
  for (std::size_t i = 0; i < panes_.size(); ++i) {
    Pane& pane = panes_[i];
    const record::Photo* photo = Photo(pane.photo);
    if (!photo || pane.box.isEmpty()) {
      link_->pictures().Drop(static_cast<int>(i));
      continue;
    }
    const int w = static_cast<int>(std::lround(pane.box.width() * ratio_)),
              h = static_cast<int>(std::lround(pane.box.height() * ratio_));
    if (fits_)
      pane.view = preview::FitView(photo->width_px, photo->height_px, w, h);
    else if (pane.photo == main->photo)
      pane.view = preview::OnPixels(main_view_, w, h);
    else if (const std::optional<preview::Similarity> laid = MainFrom(pane))
      pane.view = preview::Linked(preview::Inverse(*laid), main_view_);
    else
      pane.view = preview::LinkedByFraction(main_view_, of_main->width_px, of_main->height_px,
                                            photo->width_px, photo->height_px);
    Ask(static_cast<int>(i), pane);
  }
  const record::Photo* scan = Photo(hand_->scan());
  if (want_over_ && scan && main->stand == Stand::kFrame) {
    over_.stand = Stand::kScan;
    over_.photo = hand_->scan();
    over_.box = main->box;
    over_.view = aligned() ? preview::Linked(preview::Inverse(*frame_from_scan_.b_from_a), main->view)
                           : preview::LinkedByFraction(main->view, of_main->width_px, of_main->height_px,
                                                       scan->width_px, scan->height_px);
    Ask(kOverSlot, over_);
  }
  if (want_camera_ && main->stand == Stand::kFrame) {
    camera_.stand = Stand::kCamera;
    camera_.photo = main->photo;
    camera_.box = main->box;
    camera_.view = main->view;
    Ask(kCameraSlot, camera_);
  }
}

void Easel::Ask(int slot, Pane& pane) {
  if (pane.box.isEmpty() || !pane.photo.valid()) return;
  job::WantedPicture wanted;
  wanted.slot = slot;
  wanted.photo = pane.photo;
  const bool corrected = pane.stand != Stand::kScan && pane.stand != Stand::kCamera;
  const job::FrameRow* row = link_->book()->Frame(pane.photo);
  wanted.showing = corrected && row && row->solved ? job::Showing::kCorrected : job::Showing::kOriginal;
  if (pane.stand == Stand::kFrame && instruments_->frame() == pane.photo)
    wanted.correction = instruments_->correction();
  wanted.view = pane.view;
  wanted.width_px = static_cast<int>(std::lround(pane.box.width() * ratio_));
  wanted.height_px = static_cast<int>(std::lround(pane.box.height() * ratio_));
  wanted.marks = marks_;
  wanted.grain = !fits_ && pane.view.zoom >= 0.999 && !instruments_->trying();
  wanted.draft = instruments_->trying() && pane.stand == Stand::kFrame;
  pane.ticket = link_->pictures().Ask(wanted);
}

void Easel::Take(const job::MadePicture& made) {
  Pane* pane = nullptr;
  int index = -1;
  if (made.slot == kOverSlot)
    pane = &over_;
  else if (made.slot == kCameraSlot)
    pane = &camera_;
  else if (made.slot >= 0 && made.slot < static_cast<int>(panes_.size())) {
    index = made.slot;
    pane = &panes_[made.slot];
  }
  if (!pane || made.photo != pane->photo) return;
  if (!made.shown.empty()) pane->shown = made.shown;
  pane->why = QString::fromStdString(made.why);
  pane->soft = !made.final;
  emit pictureCame(index);
}

}  // namespace samelight::window
