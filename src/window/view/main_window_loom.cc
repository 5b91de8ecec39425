// The loom of the window, and the small pictures on it.
#include <algorithm>
#include <cmath>

#include <QtCore/QSettings>
#include <QtCore/QTimer>
#include <QtWidgets/QLineEdit>
#include <QtWidgets/QMenu>
#include <QtWidgets/QWidgetAction>

#include "window/model/loom_book.h"
#include "window/view/alternatives.h"
#include "window/view/main_window.h"

namespace samelight::window {
namespace {

const QString kHintSeen = QStringLiteral("ribbon-hint-seen");

// A field for a name inside a menu.
void AddNameField(QMenu& menu, const QString& what, const QString& now,
                  const std::function<void(const QString&)>& keep) {
  auto* action = new QWidgetAction(&menu);
  auto* edit = new QLineEdit(now);
  edit->setPlaceholderText(what);
  edit->setAccessibleName(what);
  edit->setMinimumWidth(180);
  action->setDefaultWidget(edit);
  menu.addAction(action);
  QObject::connect(edit, &QLineEdit::returnPressed, &menu, [&menu, edit, keep] {
    if (!edit->text().trimmed().isEmpty()) keep(edit->text().trimmed());
    menu.close();
  });
}

}  // namespace

void MainWindow::ConnectLoom() {
  connect(&link_, &DeskLink::bookChanged, this, [this] {
    RebuildLoom();
    WantThumbnails();
  });
  connect(&link_, &DeskLink::framesChanged, this, &MainWindow::RebuildLoom);
  connect(&link_, &DeskLink::thumbnailsMade, this, &MainWindow::TakeThumbnails);
  connect(loom_, &LoomView::frameTaken, this,
          [this](int frame) { hand_.TakeFrame(loom_->loom().frames[frame].id); });
  connect(loom_, &LoomView::scanTaken, this,
          [this](int scan) { hand_.TakeScan(loom_->loom().scans[scan].id); });
  connect(loom_, &LoomView::pairWanted, this,
          [this](int scan, int frame) { Tie(loom_->loom().scans[scan].id, loom_->loom().frames[frame].id); });
  connect(loom_, &LoomView::cutWanted, this, [this](int scan, int frame) {
    if (link_.desk()) link_.desk()->Refuse(loom_->loom().scans[scan].id, {loom_->loom().frames[frame].id});
  });
  connect(loom_, &LoomView::alternativesWanted, this, &MainWindow::ShowAlternatives);
  connect(loom_, &LoomView::edgeWanted, this, &MainWindow::EdgeMoved);
  connect(loom_, &LoomView::menuWanted, this, &MainWindow::LoomMenu);
  loom_->SetTip([this](int scan, int frame) { return TipFor(scan, frame); });
}

void MainWindow::ShowAlternatives(int scan, QPoint at) {
  auto* popup = new Alternatives(&link_, loom_->loom().scans[scan].id, &thumbs_, this);
  connect(popup, &Alternatives::chosen, this, &MainWindow::Tie);
  connect(popup, &Alternatives::refused, this, [this](PhotoId of, const std::vector<PhotoId>& frames) {
    link_.desk()->Refuse(of, frames);
    worklist_band_->Say(tr("Your word stays: none of these goes with it. Press U to pair again."));
  });
  popup->adjustSize();
  const int x = std::clamp(
      at.x() - popup->width() / 2, mapToGlobal(QPoint(8, 0)).x(),
      std::max(mapToGlobal(QPoint(8, 0)).x(), mapToGlobal(QPoint(width() - popup->width() - 8, 0)).x()));
  popup->move(x, at.y() + 12);
  popup->show();
}

void MainWindow::AskAlternatives() {
  for (std::size_t i = 0; i < loom_->loom().scans.size(); ++i)
    if (loom_->loom().scans[i].id == hand_.scan())
      return ShowAlternatives(static_cast<int>(i),
                              loom_->mapToGlobal(loom_->EndOfScan(static_cast<int>(i)).toPoint()));
}

void MainWindow::RebuildLoom() {
  loom_->SetLoom(LoomOfBook(*link_.book()));
  FollowHand();
}

void MainWindow::FollowHand() {
  instruments_.SetFrame(hand_.frame());
  const Loom& loom = loom_->loom();
  int frame = -1, scan = -1;
  for (std::size_t i = 0; i < loom.frames.size(); ++i)
    if (loom.frames[i].id == hand_.frame()) frame = static_cast<int>(i);
  // A scan that is only near is no pair: it is not taken in hand.
  if (hand_.own_scan() || frame < 0)
    for (std::size_t i = 0; i < loom.scans.size(); ++i)
      if (loom.scans[i].id == hand_.scan()) scan = static_cast<int>(i);
  loom_->SetInHand(frame, scan);
}

// Every picture of the session, those around the hand first.
void MainWindow::WantThumbnails() {
  const std::shared_ptr<const job::Book> book = link_.book();
  std::vector<std::pair<int, job::Pictures::Thumb>> wanted;
  const int at = std::max(0, book->FrameIndex(hand_.frame()));
  for (std::size_t i = 0; i < book->frames.size(); ++i)
    wanted.push_back({std::abs(static_cast<int>(i) - at),
                      {book->frames[i].photo.id,
                       book->frames[i].solved ? job::Showing::kCorrected : job::Showing::kOriginal}});
  for (const job::ScanRow& row : book->scans) {
    const int of = book->FrameIndex(row.pair.frame);
    wanted.push_back({of < 0 ? static_cast<int>(book->frames.size()) : std::abs(of - at),
                      {row.photo.id, job::Showing::kOriginal}});
  }
  std::stable_sort(wanted.begin(), wanted.end(),
                   [](const auto& a, const auto& b) { return a.first < b.first; });
  std::vector<job::Pictures::Thumb> list;
  list.reserve(wanted.size());
  for (auto& [away, thumb] : wanted) list.push_back(thumb);
  link_.pictures().WantThumbnails(std::move(list));
}

void MainWindow::TakeThumbnail(const job::Pictures::Thumb& thumb) {
  const std::shared_ptr<const preview::Shown> shown = link_.pictures().Thumbnail(thumb);
  if (!shown || shown->empty()) return;
  const QImage whole(reinterpret_cast<const uchar*>(shown->argb.data()), shown->width, shown->height,
                     static_cast<qsizetype>(shown->width) * 4, QImage::Format_RGB32);
  const int high = static_cast<int>(std::lround((bands_.strip - 2) * devicePixelRatioF()));
  // At its own height a picture is not scaled but shared, and this one's memory is not its own.
  thumbs_.Put(thumb.photo,
              high == whole.height() ? whole.copy() : whole.scaledToHeight(high, Qt::SmoothTransformation));
  loom_->ThumbCame(thumb.photo);
  thumbs_came_ = true;
}

// As many as a turn can carry; the rest in the next.
void MainWindow::TakeThumbnails() {
  for (const job::Pictures::Thumb& thumb : link_.pictures().NewThumbnails()) waiting_thumbs_.push_back(thumb);
  if (waiting_thumbs_.empty()) return;
  QElapsedTimer spent;
  spent.start();
  while (!waiting_thumbs_.empty() && spent.elapsed() < 4) {
    TakeThumbnail(waiting_thumbs_.front());
    waiting_thumbs_.pop_front();
  }
  if (!waiting_thumbs_.empty()) QTimer::singleShot(0, this, &MainWindow::TakeThumbnails);
  loom_->update();
}

// The strips have another height: every small picture is made anew from what is kept.
void MainWindow::RescaleThumbnails() {
  for (const job::FrameRow& row : link_.book()->frames)
    waiting_thumbs_.push_back(
        {row.photo.id, row.solved ? job::Showing::kCorrected : job::Showing::kOriginal});
  for (const job::ScanRow& row : link_.book()->scans)
    waiting_thumbs_.push_back({row.photo.id, job::Showing::kOriginal});
  TakeThumbnails();
}

// Where a region was compared, in both pictures: a face as a whole, other regions by their matched places.
void MainWindow::OutlineRegion(int row) {
  std::vector<EaselView::Outline> outline;
  const std::vector<job::RegionRow>& regions = instruments_.regions();
  const std::shared_ptr<const record::Correspondence> matched =
      link_.desk() && row >= 0 && row < static_cast<int>(regions.size())
          ? link_.desk()->Matched(hand_.scan(), hand_.frame())
          : nullptr;
  if (matched) {
    constexpr double kPlace = 0.008;  // of the picture: about the patch that was compared
    QRectF a, b;
    for (const record::Cell& cell : matched->cells) {
      if (cell.region != regions[row].kind || (regions[row].face >= 0 && cell.face != regions[row].face))
        continue;
      const QRectF at(cell.ax - kPlace, cell.ay - 1.5 * kPlace, 2 * kPlace, 3 * kPlace),
          bt(cell.bx - kPlace, cell.by - 1.5 * kPlace, 2 * kPlace, 3 * kPlace);
      if (regions[row].kind == record::RegionKind::kSkin) {
        a |= at;
        b |= bt;
      } else {
        outline.push_back({hand_.scan(), at});
        outline.push_back({hand_.frame(), bt});
      }
    }
    if (!a.isEmpty()) outline = {{hand_.scan(), a}, {hand_.frame(), b}};
  }
  easel_view_->SetOutline(std::move(outline));
}

void MainWindow::Tie(PhotoId scan, PhotoId frame) {
  if (!link_.desk()) return;
  link_.desk()->Join(scan, frame);
  if (!QSettings().value(kHintSeen, false).toBool()) {
    QSettings().setValue(kHintSeen, true);
    loom_->SetHint({});
  }
  hand_.TakeScan(scan);
  worklist_band_->Say(tr("Tied. Your word stays; press U to bring the corrections up to date."));
}

QString MainWindow::TipFor(int scan, int frame) const {
  if (!link_.desk()) return {};
  const job::Desk::PairTrial trial =
      link_.desk()->TryPair(loom_->loom().scans[scan].id, loom_->loom().frames[frame].id);
  QStringList lines;
  const auto one = [](double v) { return QString::number(v, 'f', 1); };
  if (trial.skin_now && trial.skin_then)
    lines += tr("skin %1 → %2").arg(one(*trial.skin_now), one(*trial.skin_then));
  else if (trial.skin_then)
    lines += tr("skin %1").arg(one(*trial.skin_then));
  else if (trial.all_then)
    lines += tr("left-over %1").arg(one(*trial.all_then));
  lines += trial.confidence ? tr("confidence %1").arg(*trial.confidence, 0, 'f', 2)
                            : QString::fromStdString(loom_->loom().frames[frame].label);
  return lines.join(QLatin1Char('\n'));
}

std::vector<PhotoId> MainWindow::Selection() const {
  std::vector<PhotoId> out;
  for (const int k : loom_->selection()) out.push_back(loom_->loom().frames[k].id);
  return out;
}

// The edge between two lights was carried to another frame: up to there they are one, and from there the next
// begins.
void MainWindow::EdgeMoved(int left_light, int first_frame) {
  const Loom& loom = loom_->loom();
  const int lights = static_cast<int>(link_.book()->lights.size());
  if (!link_.desk() || left_light + 1 >= lights) return;
  const LoomLight &left = loom.lights[left_light], &right = loom.lights[left_light + 1];
  const int edge = left.first_frame + left.frames;
  if (first_frame == edge) return;
  if (first_frame <= left.first_frame || first_frame >= right.first_frame + right.frames) {
    link_.desk()->JoinLights(left_light, left_light + 1);
    return worklist_band_->Say(tr("Two lights are one. Press U to bring pairs and corrections up to date."));
  }
  link_.desk()->MoveLightEdge(left_light, loom.frames[first_frame].id);
  worklist_band_->Say(tr("The light begins elsewhere. Press U to bring pairs and corrections up to date."));
}

void MainWindow::LoomMenu(int light, int scan, int frame, QPoint at) {
  if (!link_.desk()) return;
  const std::shared_ptr<const job::Book> book = link_.book();
  const bool known = light < static_cast<int>(book->lights.size());
  QMenu menu(this);
  if (frame >= 0) {
    const PhotoId id = loom_->loom().frames[frame].id;
    menu.addAction(tr("A light begins at this frame"), [this, id] {
      link_.desk()->SplitLight(id);
      worklist_band_->Say(tr("A light begins there. Press U to bring pairs and corrections up to date."));
    });
    menu.addAction(tr("Turn, straighten, cut"), [this, id] {
      std::vector<PhotoId> frames = Selection();
      if (std::find(frames.begin(), frames.end(), id) == frames.end()) frames = {id};
      hand_.TakeFrame(id);
      ShowSlip(new FrameSlip(&link_, std::move(frames), this));
    });
  }
  if (scan >= 0) {
    const PhotoId id = loom_->loom().scans[scan].id;
    const job::ScanRow* row = book->Scan(id);
    if (row) {
      const bool barred = row->barred;
      menu.addAction(barred ? tr("Let this scan into the look again") : tr("Keep this scan out of the look"),
                     [this, id, barred] { link_.desk()->Bar(id, !barred); });
      if (row->roll >= 0) {
        const int roll = row->roll;
        if (book->rolls[roll].scans.empty() || book->rolls[roll].scans.front() != id)
          menu.addAction(tr("Another roll begins at this scan"), [this, id] {
            link_.desk()->SplitRoll(id);
            worklist_band_->Say(tr("Another roll begins there. Press U to pair and solve again."));
          });
        menu.addAction(tr("About roll %1").arg(QString::fromStdString(book->rolls[roll].name)),
                       [this, roll] { ShowSlip(new RollsSlip(&link_, roll, this)); });
      }
    }
  }
  if (known) {
    if (!menu.isEmpty()) menu.addSeparator();
    AddNameField(
        menu, tr("name of the light"), QString::fromStdString(book->lights[light].name),
        [this, light](const QString& name) { link_.desk()->RenameLight(light, name.toStdString()); });
    if (light + 1 < static_cast<int>(book->lights.size()))
      menu.addAction(tr("One light with the next"),
                     [this, light] { link_.desk()->JoinLights(light, light + 1); });
    if (light > 0)
      menu.addAction(tr("One light with the one before"),
                     [this, light] { link_.desk()->JoinLights(light - 1, light); });
    menu.addAction(tr("Walk only through this light"), [this, light] {
      WorklistFilter filter = worklist_.filter();
      filter.light = light;
      worklist_.SetFilter(filter);
    });
  }
  menu.exec(at);
}

}  // namespace samelight::window
