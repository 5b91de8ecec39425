// The correction of the frame in hand: the follow line and every handle as a field.
#pragma once

#include <vector>

#include <QtWidgets/QWidget>

#include "window/model/follow_model.h"
#include "window/model/handle_model.h"
#include "window/view/controls.h"
#include "window/view/follow_line.h"
#include "window/view/handle_field.h"
#include "window/view/theme.h"

namespace samelight::window {

class CorrectionView : public QWidget {
  Q_OBJECT
 public:
  CorrectionView(HandleModel* handles, FollowModel* follow, Instruments* instruments,
                 QWidget* parent = nullptr);
  void SetBands(const theme::Bands& bands);
  void Flash(const QStringList& handles);
  FollowLine* follow() { return follow_; }
  HandleField* field(record::Handle handle) const;
  void SetTitle(const QString& of);

 signals:
  void carryWanted();
  void carryOneToLight(record::Handle handle);
  void statesWanted(QPoint global);

 protected:
  void paintEvent(QPaintEvent*) override;
  void resizeEvent(QResizeEvent*) override;

 private:
  struct Place {
    HandleField* field;
    QString name;
    QRectF name_box, origin_box, sigma_box;  // empty: not written
  };
  void Build();
  void Arrange();

  HandleModel* handles_;
  Instruments* instruments_;
  FollowLine* follow_;
  Button *carry_, *states_, *level_;
  std::vector<Place> places_;
  bool narrow_ = false;
  QString of_;
};

}  // namespace samelight::window
