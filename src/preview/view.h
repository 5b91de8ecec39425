// Which part of a picture is looked at, how large, and turned how.
#pragma once

#include <array>

namespace samelight::preview {

// Pixels of a picture: (0, 0) is the outer corner of the upper left one, of the picture at full size.
struct Point {
  double x = 0, y = 0;
};

struct View {
  Point centre;           // what lies in the middle of the output, pixels of the full-size picture
  double zoom = 0;        // device pixels per picture pixel: 1 is 100 %. 0 or less counts as 1
  double angle_deg = 0;   // the picture is turned clockwise by this about `centre`
  bool mirrored = false;  // left and right exchanged before turning
};

// The whole picture as large as it fits, upright.
View FitView(int picture_width, int picture_height, int width, int height);

// Place of a picture pixel in an output of `width` x `height`, and back.
Point OutputFromPicture(const View& view, int width, int height, Point picture);
Point PictureFromOutput(const View& view, int width, int height, Point output);

// Zooms by `factor` so that what lies under `anchor` (output) stays there.
View Zoomed(const View& view, int width, int height, Point anchor, double factor);
// The same view, moved by less than an output pixel so that the picture's pixels fall on the output's: at a
// whole zoom (100 %, 200 % ...) each is shown as it is and not as a mean of its neighbours. Other views stay
// as they are.
View OnPixels(const View& view, int width, int height);
// Moves what is seen by a step in output pixels.
View Panned(const View& view, double dx, double dy);

}  // namespace samelight::preview
