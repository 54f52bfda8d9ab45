# Makes the demo's job at JOB, anew.
file(REMOVE_RECURSE ${JOB})
execute_process(COMMAND ${PROGRAM} ${JOB} OUTPUT_QUIET COMMAND_ERROR_IS_FATAL ANY)
