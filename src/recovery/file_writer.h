#pragma once

#include "glassine/flow/sink.h"
#include "glassine/recovery/check.h"
#include "glassine/recovery/layout.h"

#include <functional>
#include <span>
#include <vector>

namespace glassine::recovery {

/// Writes the recovery file of a window to all outputs, which see it as one more file: its name is
/// `file_name(window.group, window.number)`. `checks` has one value for each block;
/// `repair_block(i)` gives repair block i and is called in ascending order. Returns the size in
/// bytes.
std::uint64_t write_recovery_file(
    const Window& window, std::span<const Check> checks,
    const std::function<std::span<const std::byte>(std::uint32_t)>& repair_block,
    std::span<flow::Sink* const> outputs);

}  // namespace glassine::recovery
