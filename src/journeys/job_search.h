#pragma once

#include "glassine/report/restore_result.h"
#include "journeys/shelf_records.h"

#include <string>
#include <vector>

namespace glassine::journeys {

/// The jobs that words half remembered may mean, best first, by the same search as `shelf find`. A
/// bag's whole name means that bag. Copies that were exchanged or are lost are left out; connected
/// ones come first, whole before doubtful. Empty when there is no register.
std::vector<report::FoundJob> jobs_answering(ShelfRecords& records, const std::string& words);

}  // namespace glassine::journeys
