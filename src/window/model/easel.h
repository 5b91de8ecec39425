// The easel: which pictures stand on it, how large, and what part of them is seen.
#pragma once

#include <array>
#include <optional>
#include <vector>

#include <QtCore/QObject>
#include <QtCore/QRectF>
#include <QtCore/QStringList>
#include <QtCore/QTimer>

#include "window/model/hand.h"
#include "window/model/instruments.h"

namespace samelight::window {

class Easel final : public QObject {
  Q_OBJECT
 public:
  enum class Way { kSide, kWipe };  // side by side; one over the other
  // kCamera: the frame as the camera made it; kCandidate: what an undecided scan could belong to.
  enum class Stand { kScan, kFrame, kNeighbour, kCamera, kCandidate };
  struct Pane {
    Stand stand = Stand::kFrame;
    PhotoId photo;
    QRectF box;                // device-independent px in the easel
    QStringList words;         // caption, first line strongest
    preview::View view;        // in device px
    preview::Shown shown;      // what is on the screen; empty: not yet
    bool soft = true;          // a better one follows
    QString why;               // it cannot be shown
    std::uint64_t ticket = 0;  // awaited
  };

  Easel(DeskLink* link, Hand* hand, Instruments* instruments, QObject* parent = nullptr);

  // Size of the easel, the width kept for words at either side, and device px per px.
  void SetRoom(double width, double height, double words, double ratio);
  void SetWay(Way way);
  void SetStanding(Stand stand, bool on);  // kNeighbour and kCamera come and go
  bool Stands(Stand stand) const;
  void SetMarks(bool on);
  // `icc`: of the space to proof for, empty: sRGB. Errors of job::Pictures::SetSoftProof.
  Status SetSoftProof(bool on, const std::vector<std::uint8_t>& icc = {});
  Way way() const { return way_; }
  bool marks() const { return marks_; }
  bool soft_proof() const { return soft_proof_; }
  // What is kept of a frame that is not delivered whole: corners in fractions of the picture; empty: all of
  // it.
  std::vector<QPointF> CutOfFrame(PhotoId frame) const;
  // Every picture anew: how it is to be shown has changed.
  void AskAll();

  const std::vector<Pane>& panes() const { return panes_; }
  // The scan as it would lie on the frame's pane, and the frame as the camera made it: for wipe, flicker,
  // before.
  const Pane& over() const { return over_; }
  const Pane& camera() const { return camera_; }
  void WantOver(bool on);  // while it is being looked at
  void WantCamera(bool on);
  // How well the two are laid over each other: matched places, or the same part of the whole.
  bool aligned() const { return frame_from_scan_.b_from_a.has_value(); }

  // Zoom in device px per picture px of the frame; fits() while whole pictures are seen.
  bool fits() const { return fits_; }
  double zoom() const;
  void Fit();
  // Around a place of pane `pane` (px within its box).
  void ZoomTo(double zoom, int pane, QPointF at);
  void ZoomBy(double factor, int pane, QPointF at);
  void Pan(int pane, QPointF by);  // px

 signals:
  void laidOut();              // panes came, went or moved
  void pictureCame(int pane);  // -1: over() or camera()

 private:
  void Rebuild();
  void Place();
  void Link();
  void Ask(int slot, Pane& pane);
  void Take(const job::MadePicture& made);
  Pane* Main();
  const record::Photo* Photo(PhotoId id) const;

  DeskLink* link_;
  Hand* hand_;
  Instruments* instruments_;
  double width_ = 0, height_ = 0, words_ = 230, ratio_ = 1;
  Way way_ = Way::kSide;
  bool neighbour_ = false, camera_stands_ = false, marks_ = false, soft_proof_ = false;
  bool fits_ = true, want_over_ = false, want_camera_ = false;
  std::vector<Pane> panes_;
  Pane over_, camera_;
  preview::View main_view_;  // of the frame (or the scan when it is alone), when not fitting
  // One picture laid over another by the places that were matched in both.
  struct Laid {
    std::shared_ptr<const record::Correspondence> places;  // what it was fitted to
    std::optional<preview::Similarity> b_from_a;
    void Fit(std::shared_ptr<const record::Correspondence> matched, const record::Photo* a,
             const record::Photo* b);
  };
  // The frame's place from that of another pane; nothing without matched places.
  std::optional<preview::Similarity> MainFrom(const Pane& pane) const;
  Laid frame_from_scan_, neighbour_from_frame_;
  std::vector<QPointF> cut_;  // of the frame in hand, as it was last told
};

}  // namespace samelight::window
