#include "cli/program.h"

namespace glassine::cli {

const std::vector<Command>& commands() {
    static const std::vector<Command> all{
        preflight_command(), closeout_command(), inspect_command(), audit_command(), mend_command(),
        migrate_command(),   restore_command(),  clear_command(),   shelf_command()};
    return all;
}

}  // namespace glassine::cli
