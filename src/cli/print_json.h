// The JSON texts behind Print(..., As::kJson).
#pragma once

#include <string>

#include "job/history.h"
#include "job/job.h"

namespace samelight::cli {

std::string Json(const job::StockAnswer& answer);
std::string Json(const job::PairAnswer& answer);
std::string Json(const job::MatchAnswer& answer);
std::string Json(const job::DeliverAnswer& answer);
std::string Json(const job::OrderAnswer& answer);
std::string Json(const job::CropAnswer& answer);
std::string Json(const job::SettleAnswer& answer);
std::string Json(const job::StateAnswer& answer);
std::string Json(const job::RunAnswer& answer);
std::string Json(const job::CheckAnswer& answer);
std::string Json(const job::PictureAnswer& answer);
std::string Json(const job::LookAnswer& answer, bool whole);
std::string Json(const job::LookExportAnswer& answer);
std::string Json(const job::DemoAnswer& answer);
std::string Json(const job::UndoAnswer& answer);
std::string Json(const job::HistoryAnswer& answer);
std::string Json(const Error& error);

}  // namespace samelight::cli
