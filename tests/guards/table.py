"""The guards: the tests that must fail without each, and how it is taken out where the rule of its statement is not meant.

Where a guard stands is marked there (see `marks`). Items are those of the acceptance list. A guard of the program is one that refuses,
repairs or says; one of the tests is a question that is asked.
"""

from dataclasses import dataclass

ITEMS = {
    1: "population sweep", 2: "sample of solids", 3: "bad input", 4: "faults", 5: "benchmarks", 6: "fresh machines", 7: "documents and pictures",
}  # fmt: skip


@dataclass(frozen=True)
class Guard:
    """One guard.

    name : the one of its mark
    tests : those that must fail without it
    how : the way in which it is taken out, where it is not the rule of its statement (see `marks`)
    ends : type of the error that escapes through the missing guard, where it is not an assertion that fails
    document, word : a text that may hold no marks, and the word in it that is misspelt
    """

    item: int
    name: str
    tests: tuple[str, ...]
    how: str = ""
    ends: str = ""
    document: str = ""
    word: str = ""


SWEEP = "tests/sweep/test_population.py::"
FILESET = "tests/output/test_fileset.py::"
PLACE = "tests/output/test_place.py::"
NUMBERING = "tests/output/studies/test_numbering.py::"
HOSTILE = "tests/faults/test_hostile.py::"
DISKS = "tests/faults/test_disks.py::"
INSTALLED = "tests/faults/test_installation.py::"
PROMISES = "tests/test_promises.py::"
SOLID = "tests/shell/test_solid.py::"
BAD_INPUT = "tests/inputs/test_bad_input.py::"
ODD_INPUT = "tests/inputs/test_odd_input.py::"
BENCHMARKS = "tests/test_benchmarks.py::"
CLI = "tests/cli/test_cli.py::"
COMPARE = "tests/studies/test_compare.py::"
README = "tests/test_readme.py::"
BAD_BODY = SWEEP + "test_a_kind_that_makes_a_bad_body_is_found"
BAD_CALL = "tests/cli/test_bad_calls.py::test_a_wrong_call_is_refused_and_leaves_no_trace"
FONT = INSTALLED + "test_a_font_that_cannot_be_used_is_named"

GUARDS = [
    # --- 1 population sweep ---
    Guard(1, "closed", (f"{BAD_BODY}[open]",)),
    Guard(1, "one body", (f"{BAD_BODY}[several bodies]",)),
    Guard(1, "no overlap with itself", (f"{BAD_BODY}[runs through itself]",)),
    Guard(1, "positive volume", (f"{BAD_BODY}[no volume]",)),
    Guard(1, "numbers for places", (SWEEP + "test_a_place_that_is_no_number_is_found[nan]",), ends="ValueError"),
    Guard(1, "depth in the skin", (SWEEP + "test_half_a_millimetre_into_the_skin_is_allowed_and_no_more[0.55-True]",)),
    Guard(1, "no exception", (SWEEP + "test_an_exception_is_found_with_its_traceback",), ends="ZeroDivisionError"),
    Guard(1, "an end in time", (SWEEP + "test_a_body_without_end_is_found",)),
    Guard(1, "a refusal with its number", (SWEEP + "test_a_refusal_without_a_number_is_found",)),
    Guard(1, "findings are there", (SWEEP + "test_a_check_without_a_number_is_found[nothing found at all]",)),
    Guard(1, "findings are numbers", (SWEEP + "test_a_check_without_a_number_is_found[no number]", SWEEP + "test_a_check_without_a_number_is_found[no limit]", SWEEP + "test_a_check_without_a_number_is_found[no place]", SWEEP + "test_a_check_without_a_number_is_found[no mark from which it is watched]")),
    Guard(1, "the same bytes again", (f"{BAD_BODY}[not repeatable]",)),
    Guard(1, "the same bytes in another process", (SWEEP + "test_another_body_in_another_process_is_found",)),
    Guard(1, "a process that ends", (SWEEP + "test_a_body_that_ends_its_process_is_a_fault_of_that_body",), ends="StudyError"),
    Guard(1, "rows of this program alone", (SWEEP + "test_a_stopped_sweep_goes_on",)),
    Guard(1, "shrinking leaves keys out", (SWEEP + "test_shrinking_leaves_what_matters",)),
    Guard(1, "shrinking ends", (SWEEP + "test_shrinking_ends",)),
    Guard(1, "a triangle once", ("tests/checks/test_integrity.py::test_a_body_laid_over_itself_is_no_closed_surface",)),
    Guard(1, "hollows are bridged", ("tests/shell/test_hollows.py::test_valley_and_pit_are_bridged_by_the_circle_that_touches_both_sides[valley across]",), how="times 0"),
    Guard(1, "vents well apart", ("tests/sweep/test_random_forearms.py::test_vents_stay_apart_where_the_pattern_is_sheared",), ends="ShapingError"),
    Guard(1, "rims that cross between their samples", ("tests/shell/test_shell.py::test_rims_that_cross_between_their_samples_are_refused",), how="times 0"),
    Guard(1, "a bridge for two rims", ("tests/inputs/test_case_files.py::test_a_bridge_is_wider_than_two_rims",), how="times 0.9"),
    # --- 2 sample of solids ---
    Guard(2, "agreement with the mesh", (SWEEP + "test_a_solid_that_differs_from_its_mesh_is_found[shifted]",)),
    Guard(2, "one closed body", (SWEEP + "test_a_solid_that_is_no_single_body_is_found",)),
    Guard(2, "a solid at all", (SWEEP + "test_what_the_kernel_cannot_build_is_found",)),
    Guard(2, "one solid", (SOLID + "test_a_vent_outside_the_outline_is_refused",), ends="ValueError"),
    Guard(2, "a valid solid", (SOLID + "test_a_solid_that_crosses_itself_is_refused",)),
    Guard(2, "turned outward", (SOLID + "test_an_inside_out_solid_is_turned",)),
    Guard(2, "loops that cross", (SOLID + "test_vents_too_close_for_their_rims_are_refused_with_both_numbers",)),
    Guard(2, "the step that failed", (SOLID + "test_a_failure_of_the_kernel_names_the_step_and_its_dimensions",), ends="StdFail_NotDone"),
    Guard(2, "the same STEP bytes", (SOLID + "test_step_file_is_in_millimetres_named_and_repeatable",), how="argument 2"),
    # --- 3 bad input ---
    Guard(3, "a refusal is no traceback", (f"{BAD_CALL}[build-no such format]", f"{BAD_CALL}[suggest-a misspelt injury]"), ends="InputError"),
    Guard(3, "a refusal of one case", (CLI + "test_every_case_is_reported_and_the_worst_code_counts",)),
    Guard(3, "exit 2", (f"{BAD_CALL}[check-check a folder]",), how="times 0"),
    Guard(3, "a message that moves no cursor", (f"{BAD_CALL}[build-a name that colours a terminal]",)),
    Guard(3, "unknown keys", (f"{BAD_CALL}[check-check a misspelt key]",)),
    Guard(3, "no number without end in a file", (f"{BAD_CALL}[check-a figure without end]",)),
    Guard(3, "no NaN on the command line", (CLI + "test_an_option_that_is_no_number_is_refused_whatever_the_parser_lets_through[nan]",)),
    Guard(3, "all problems at once", (BAD_INPUT + "test_all_problems_of_a_file_come_at_once",)),
    Guard(3, "a flood of problems", (BAD_INPUT + "test_of_a_flood_of_problems_the_first_are_told",)),
    Guard(3, "a pipe in an old code page", (CLI + "test_a_pipe_in_an_old_code_page_stops_nothing",)),
    Guard(3, "formats", (BAD_INPUT + "test_unknown_formats_are_refused_once",)),
    Guard(3, "two cases of one code", (CLI + "test_two_cases_of_one_code_do_not_replace_each_other",)),
    Guard(3, "a bed too small", (BAD_INPUT + "test_a_bed_too_small_names_both_sizes",)),
    Guard(3, "a suggestion is said also where its case cannot be written", (f"{BAD_CALL}[suggest-a file below a file]",)),
    Guard(3, "a file that is there", (f"{BAD_CALL}[suggest-a file that is there]",)),
    Guard(3, "a folder for a file", (BAD_INPUT + "test_a_folder_is_refused_with_a_file_in_it",)),
    Guard(3, "what heals is never let go for the sake of the skin", (f"{BAD_CALL}[build-mallet worn in spells]",)),
    Guard(3, "a protected orthosis is never said not to be", (f"{BAD_CALL}[build-mallet that protects nothing]",)),
    Guard(3, "a table of many wrong calls", ("tests/cli/test_bad_calls.py::test_every_command_is_misused",)),
    Guard(3, "odd values of a variation", (ODD_INPUT + "test_any_variation",), ends="ValueError"),
    Guard(3, "odd records", (ODD_INPUT + "test_any_bytes_for_a_record",), ends="AttributeError"),
    Guard(3, "a finger that nobody measured", ("tests/inputs/test_who_was_measured.py::test_only_the_sex_is_refused[mallet]",)),
    Guard(3, "a grid is counted before it is made", (COMPARE + "test_a_grid_is_counted_before_it_is_made",)),
    # --- 4 faults ---
    Guard(4, "killed: written beside the old set", (FILESET + "test_a_killed_build_leaves_one_whole_set[while writing-old]",), how="receiver", ends="ExportError"),
    Guard(4, "killed: the next build puts back", (FILESET + "test_a_killed_build_leaves_one_whole_set[between the renames-old]", "tests/output/test_interrupted_sets.py::test_killed_before_any_file_operation_it_is_the_old_set_or_the_new_one")),
    Guard(4, "stopped between the renames", (FILESET + "test_a_stop_between_the_renames_puts_the_old_set_back[KeyboardInterrupt]",)),
    Guard(4, "a failing build clears up", (FILESET + "test_a_failing_build_changes_nothing",)),
    Guard(4, "files of the user's own", (FILESET + "test_what_the_user_put_there_is_kept",), ends="FileNotFoundError"),
    Guard(4, "two builds at once", (FILESET + "test_two_builds_never_mix",)),
    Guard(4, "killed: a worker's jobs go to another one", (COMPARE + "test_a_lost_worker_loses_no_result",), ends="BrokenProcessPool"),
    Guard(4, "killed: a part beside the set puts back", (FILESET + "test_a_part_beside_a_set_brings_back_what_a_killed_build_left",), ends="FileNotFoundError"),
    Guard(4, "stopped: workers finish what they have", (COMPARE + "test_after_ctrl_c_workers_finish_what_they_have_and_begin_little_more",)),
    Guard(4, "killed: workers end with the program", (COMPARE + "test_a_killed_program_takes_its_workers_with_it",)),
    Guard(4, "what cannot be copied", (FILESET + "test_what_the_user_put_there_and_cannot_be_copied_stops_the_new_set[mine/pipe]",), ends="Error"),
    Guard(4, "an earlier set is kept", (PLACE + "test_a_replacement_gets_a_letter_and_keeps_the_earlier_set",), ends="FileNotFoundError"),
    Guard(4, "a part of another shape stays", (PLACE + "test_a_writer_that_never_asked_is_refused_under_the_lock",)),
    Guard(4, "a damaged stamp", (PLACE + "test_a_part_that_nothing_tells_of_stays_too[no JSON]",)),
    Guard(4, "odd revisions", ("tests/output/record/test_record.py::test_an_odd_revision_or_step_is_refused[revision-../a]",)),
    Guard(4, "a series goes on", (NUMBERING + "test_a_changed_case_is_refused_unless_it_goes_on",)),
    Guard(4, "an orthosis of a series stays", (NUMBERING + "test_an_orthosis_that_would_come_out_otherwise_stays",)),
    Guard(4, "a study takes no part's place", (PLACE + "test_a_study_takes_no_parts_place",)),
    Guard(4, "full disk", (DISKS + "test_a_build_on_a_full_disk[stl]",), ends="OSError"),
    Guard(4, "full disk: 3MF by way of memory", (FILESET + "test_a_full_disk_is_told_and_leaves_the_old_set[3mf]",), how="silenced"),
    Guard(4, "full disk: kept results", (DISKS + "test_kept_results_on_a_full_disk",)),
    Guard(4, "full disk: a started case", (DISKS + "test_a_started_case_on_a_full_disk",)),
    Guard(4, "read-only: asked before the build", (DISKS + "test_a_build_on_a_disk_that_only_reads", BAD_INPUT + "test_an_output_folder_that_cannot_be_written_stops_before_the_build")),
    Guard(4, "a link for the folder", (FILESET + "test_a_link_cannot_lead_out_of_the_folder",)),
    Guard(4, "font: damaged", (f"{FONT}[a bit turned]", f"{FONT}[cut off]", f"{FONT}[text]")),
    Guard(4, "font: unreadable", (f"{FONT}[gone]",), ends="FileNotFoundError"),
    Guard(4, "library: missing", (INSTALLED + "test_a_missing_library_is_named_with_its_package[igl-libigl-stl]",)),
    Guard(4, "library: of a cluster", (INSTALLED + "test_a_cluster_without_its_library",)),
    Guard(4, "library: does not load", (INSTALLED + "test_a_library_that_does_not_load_names_what_the_system_lacks",)),
    Guard(4, "library: our own mistake", (INSTALLED + "test_a_missing_module_of_our_own_stays_a_traceback",)),
    Guard(4, "code: on the command line", (f"{BAD_CALL}[suggest-a file of a hostile code]", f"{BAD_CALL}[class-set-a list with a name that climbs]")),
    Guard(4, "code: of a case", (f"{BAD_CALL}[build-code of a device of Windows]",)),
    Guard(4, "code: of a folder", (FILESET + "test_a_code_cannot_leave_the_folder[.hidden]", FILESET + "test_a_code_cannot_leave_the_folder[C:]")),
    Guard(4, "code: a device", (HOSTILE + "test_a_hostile_code_names_no_folder['con']",)),
    Guard(4, "TOML: nested deeply", (BAD_INPUT + "test_lists_nested_a_thousand_deep_are_refused",), ends="RecursionError"),
    Guard(4, "TOML: huge numbers", (BAD_INPUT + "test_text_that_is_no_toml_is_refused_with_its_line[5000 digits]",), ends="ValueError"),
    Guard(4, "TOML: 50 MB", (BAD_INPUT + "test_a_large_file_is_not_read",)),
    Guard(4, "TOML: keys of very many parts", (BAD_INPUT + "test_keys_of_very_many_parts_are_refused_before_they_are_read",)),
    Guard(4, "TOML: a pipe", (BAD_INPUT + "test_a_pipe_is_refused_at_once",)),
    Guard(4, "CSV: very many columns", (f"{BAD_CALL}[class-set-a list of very many columns]",)),
    Guard(4, "a clinic's own figures", (COMPARE + "test_results_of_another_regimen_of_the_clinic_are_not_reused",)),
    # --- 5 benchmarks ---
    Guard(5, "a program that fails", (BENCHMARKS + "test_a_program_that_fails_is_not_timed[2]",)),
    Guard(5, "one thread", (BENCHMARKS + "test_a_measured_program_has_one_thread",), ends="SystemExit"),
    Guard(5, "memory without the parent's", (BENCHMARKS + "test_a_program_is_measured_without_the_memory_of_its_parent",), how="plus ballast = b'x' * 200_000_000"),
    Guard(5, "every kind", (BENCHMARKS + "test_every_kind_is_measured",)),
    Guard(5, "largest costs first", (BENCHMARKS + "test_the_table_adds_up_and_names_the_largest_costs",)),
    # --- 6 fresh machines ---
    Guard(6, "wheel: the whole package", (PROMISES + "test_the_wheel_takes_the_package_whole",)),
    Guard(6, "wheel: a file left out", ("tests/installed/test_wheel.py::test_a_file_that_is_left_out_is_seen[language/de/sheets.toml]",), how="plus .toml"),
    Guard(6, "wheel: a version without an installation", (PROMISES + "test_a_tree_that_is_not_installed_has_a_version_too",)),
    Guard(6, "least versions: every need has one", (PROMISES + "test_every_need_has_a_least_version_that_is_met_here[scipy]",), how="times 2"),
    Guard(6, "tests left to CI", (PROMISES + "test_ci_runs_what_the_quick_command_leaves_to_it",)),
    Guard(6, "least versions: asked for exactly", (PROMISES + "test_the_oldest_versions_are_asked_for_exactly",)),
    Guard(6, "needs are declared", ("tests/test_floors.py::test_no_import_breaks_a_rule[is_undeclared]",)),
    Guard(6, "licences: no GPL at run time", ("tests/test_licences.py::test_a_planted_licence_is_told_apart[GPL-2.0-or-later-GPL]",), how="plus GPL"),
    Guard(6, "licences: the list names all", ("tests/test_licences.py::test_the_page_names_every_declared_package_with_its_licence",), document="print3d/LICENCES.md", word="shapely"),
    Guard(6, "Pythons: the oldest", (PROMISES + "test_every_place_promises_the_same_pythons",), how="times 2"),
    Guard(6, "Pythons: this one", (PROMISES + "test_every_place_promises_the_same_pythons",)),
    Guard(6, "same bytes: classes come in the order of a set", ("tests/output/paper/test_pattern.py::test_a_drawing_does_not_depend_on_the_order_of_a_set",)),
    # --- 7 documents and pictures ---
    Guard(7, "toys: a step of the check", ("tests/test_adding_a_kind_and_a_check.py::test_developers_md_names_every_file_that_is_added_and_none_is_edited",), document="DEVELOPERS.md", word="checks/<name>.<language>.toml"),
    Guard(7, "toys: the check is found", ("tests/test_adding_a_kind_and_a_check.py::test_a_missing_word_is_one_error_with_file_and_key",)),
    Guard(7, "pictures: one of every kind", (README + "test_every_kind_has_a_picture",), document="README.md", word="pictures/mallet.png"),
    Guard(7, "pictures: as the tool makes them", (README + "test_a_picture_is_what_the_tool_makes",), how="times 0.25"),
    Guard(7, "README: its first command", (PROMISES + "test_the_commands_that_fresh_machines_take_from_the_readme_are_marked[first command-print3d build params/cases/]",), document="README.md", word="first command"),
    Guard(7, "README: its links", (README + "test_every_path_is_there",), document="README.md", word="print3d/LICENCES.md"),
    Guard(7, "change log: this version", (PROMISES + "test_the_change_log_ends_with_this_version",), how="times 2"),
]  # fmt: skip
