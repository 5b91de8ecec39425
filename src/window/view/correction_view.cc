#include "window/view/correction_view.h"

#include <algorithm>

#include <QtGui/QPainter>
#include <QtWidgets/QMenu>

#include "window/view/paint.h"

namespace samelight::window {
namespace {

using record::Handle;
using theme::Font;
using theme::Weight;

constexpr double kTitle = 26;  // px above the follow line

// One row of the panel: a name, and one to three handles.
struct Row {
  const char* name;  // nullptr: the handle's own
  std::vector<Handle> handles;
};
const std::vector<Row>& Left() {
  static const std::vector<Row> rows = {{nullptr, {Handle::kExposure}},     {nullptr, {Handle::kWarmth}},
                                        {nullptr, {Handle::kGreenMagenta}}, {nullptr, {Handle::kGamma}},
                                        {nullptr, {Handle::kToe}},          {nullptr, {Handle::kShoulder}}};
  return rows;
}
const std::vector<Row>& Right() {
  static const std::vector<Row> rows = {
      {nullptr, {Handle::kBlackDensity}},
      {nullptr, {Handle::kChroma}},
      {"skin", {Handle::kSkinHue, Handle::kSkinChroma, Handle::kSkinLightness}},
      {"foliage", {Handle::kFoliageHue, Handle::kFoliageChroma, Handle::kFoliageLightness}},
      {"sky", {Handle::kSkyHue, Handle::kSkyChroma, Handle::kSkyLightness}},
      {"grain", {Handle::kGrainAmount, Handle::kGrainSize, Handle::kAcutance}}};
  return rows;
}

}  // namespace

CorrectionView::CorrectionView(HandleModel* handles, FollowModel* follow, Instruments* instruments,
                               QWidget* parent)
    : QWidget(parent), handles_(handles), instruments_(instruments) {
  follow_ = new FollowLine(follow, instruments, this);
  level_ = new Button(tr("this frame"), QString(), Button::Look::kQuiet, this);
  level_->SetMenuMark(true);
  level_->setAccessibleName(tr("who follows: this frame"));
  states_ = new Button(tr("States"), QString(), Button::Look::kQuiet, this);
  states_->SetMenuMark(true);
  states_->setToolTip(tr("Keep the correction as it is under a name, and take it up again"));
  carry_ = new Button(tr("Carry"), QString(), Button::Look::kOutline, this);
  carry_->setToolTip(tr("Carry the touch of this frame to others (C)"));
  connect(carry_, &Button::clicked, this, &CorrectionView::carryWanted);
  connect(states_, &Button::clicked, this,
          [this] { emit statesWanted(states_->mapToGlobal(states_->rect().topRight())); });
  connect(level_, &Button::clicked, this, [this] {
    QMenu menu(this);
    const auto add = [&](const QString& word, FollowModel::Level level) {
      menu.addAction(word, [this, word, level] {
        follow_->SetLevel(level);
        level_->setText(word);
        level_->setAccessibleName(tr("who follows: %1").arg(word));
        Arrange();
      });
    };
    add(tr("this frame"), FollowModel::kFrame);
    add(tr("its light"), FollowModel::kLight);
    add(tr("the session"), FollowModel::kSession);
    menu.exec(level_->mapToGlobal(level_->rect().bottomLeft()));
  });
  const auto refresh = [this] {
    if (places_.empty() && handles_->rowCount() > 0) Build();
    for (Place& place : places_) place.field->Refresh();
    carry_->setEnabled(handles_->rowCount() > 0);
    states_->setEnabled(handles_->rowCount() > 0);
    update();
  };
  connect(handles, &QAbstractItemModel::modelReset, this, refresh);
  connect(handles, &QAbstractItemModel::dataChanged, this, refresh);
  Build();
  refresh();
}

void CorrectionView::SetTitle(const QString& of) {
  of_ = of;
  update();
}

// Fields stand for handles, which do not change; the model's rows come and go with the frame in hand.
void CorrectionView::Build() {
  if (!places_.empty()) return;
  const std::vector<record::HandleFacts>& all = record::AllHandles();
  for (const std::vector<Row>* rows : {&Left(), &Right()})
    for (const Row& row : *rows)
      for (std::size_t i = 0; i < row.handles.size(); ++i) {
        int at = 0;
        while (at < static_cast<int>(all.size()) && all[at].handle != row.handles[i]) ++at;
        Place place;
        place.field = new HandleField(handles_, instruments_, at, this);
        place.field->SetSmall(row.handles.size() > 1);
        if (i == 0) place.name = QString::fromUtf8(row.name ? row.name : all[at].name);
        const Handle handle = row.handles[i];
        connect(place.field, &HandleField::carryWanted, this,
                [this, handle] { emit carryOneToLight(handle); });
        places_.push_back(place);
        place.field->show();
      }
  QWidget::setTabOrder(follow_, places_.front().field);
  for (std::size_t i = 1; i < places_.size(); ++i)
    QWidget::setTabOrder(places_[i - 1].field, places_[i].field);
  Arrange();
}

HandleField* CorrectionView::field(Handle handle) const {
  for (const Place& place : places_)
    if (record::AllHandles()[place.field->row()].handle == handle) return place.field;
  return nullptr;
}

void CorrectionView::SetBands(const theme::Bands& bands) {
  narrow_ = bands.narrow;
  Arrange();
}

void CorrectionView::Arrange() {
  int x = width() + 2;
  for (Button* button : {carry_, states_, level_}) {
    const QSize size = button->sizeHint();
    x -= size.width();
    button->setGeometry(x, -2, size.width(), 28);  // its outline lies within the panel
    x -= 2;
  }
  follow_->setGeometry(0, static_cast<int>(kTitle), width(), 40);
  const double top = kTitle + 40 + (narrow_ ? 0 : 6);
  const double pitch = (height() - top) / 6;
  const double field_h = std::min(30.0, pitch + 2);
  const double name_w = narrow_ ? 88 : 94, field_w = narrow_ ? 78 : 84, origin_w = narrow_ ? 50 : 54,
               sigma_w = narrow_ ? 0 : 42;
  const double right_x = narrow_ ? width() - 214 : width() - 272;
  const double right_name = narrow_ ? 46 : 56;
  std::size_t at = 0;
  const auto put = [&](const std::vector<Row>& rows, double left, double names, bool is_left) {
    for (std::size_t r = 0; r < rows.size(); ++r) {
      const double y = top + pitch * static_cast<double>(r), middle = y + pitch / 2;
      const double count = static_cast<double>(rows[r].handles.size());
      double fx = left + names;
      // A single field of the right column has a longer name and stands under the last of three.
      const double end = is_left ? fx + field_w : static_cast<double>(width()) + 3;
      double w = is_left ? field_w : (end - fx) / 3;
      if (!is_left && count < 2) {
        fx = left + (narrow_ ? 86 : 92);
        w = narrow_ ? 66 : field_w;
      }
      for (std::size_t i = 0; i < rows[r].handles.size() && at < places_.size(); ++i, ++at) {
        Place& place = places_[at];
        place.name_box =
            i == 0 ? QRectF(left, y, (count < 2 ? (narrow_ && !is_left ? 86 : 92) : names) - 2, pitch)
                   : QRectF();
        place.origin_box = count < 2 ? QRectF(fx + w + 4, y, origin_w, pitch) : QRectF();
        place.sigma_box =
            count < 2 && sigma_w > 0 && is_left ? QRectF(fx + w + origin_w + 4, y, sigma_w, pitch) : QRectF();
        place.field->setGeometry(static_cast<int>(fx), static_cast<int>(middle - field_h / 2),
                                 static_cast<int>(w), static_cast<int>(field_h));
        fx += w;
      }
    }
  };
  put(Left(), 2, name_w, true);
  put(Right(), right_x, right_name, false);
  update();
}

void CorrectionView::paintEvent(QPaintEvent*) {
  QPainter p(this);
  DrawRuns(
      p, 2, 16, level_->x() - 8.0,
      {{tr("Correction") + QStringLiteral("  "), Font(13, Weight::kStrong)}, {of_, Font(12), theme::kText3}});
  for (const Place& place : places_) {
    const QModelIndex origin = handles_->index(place.field->row(), HandleModel::kOrigin);
    const QModelIndex value = handles_->index(place.field->row(), HandleModel::kValue);
    const bool usable = value.isValid();
    if (!place.name_box.isEmpty())
      DrawText(p, place.name_box, Qt::AlignLeft, place.name, Font(12),
               usable ? theme::kText1 : theme::kTextOff);
    if (!usable || place.origin_box.isEmpty()) continue;
    if (value.data(HandleModel::kTouched).toBool()) {
      p.setRenderHint(QPainter::Antialiasing);
      p.setPen(Qt::NoPen);
      p.setBrush(theme::kAccent);
      p.drawEllipse(QPointF(place.origin_box.left() + 3, place.origin_box.center().y()), 2.5, 2.5);
      DrawText(p, place.origin_box.adjusted(9, 0, 10, 0), Qt::AlignLeft, origin.data().toString(), Font(11),
               theme::kAccent);
    } else {
      DrawText(p, place.origin_box, Qt::AlignLeft, origin.data().toString(), Font(11), theme::kText3);
      if (!place.sigma_box.isEmpty())
        DrawFigures(p, place.sigma_box, Qt::AlignLeft,
                    handles_->index(place.field->row(), HandleModel::kSigma).data().toString(), Font(11),
                    theme::kText3);
    }
  }
}

void CorrectionView::Flash(const QStringList& names) {
  for (const Place& place : places_)
    if (names.contains(QString::fromUtf8(record::AllHandles()[place.field->row()].name)))
      place.field->Flash();
}

void CorrectionView::resizeEvent(QResizeEvent*) { Arrange(); }

}  // namespace samelight::window
