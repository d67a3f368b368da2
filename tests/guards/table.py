"""The guards: in which file each stands, its text, the text without it, and the tests that must then fail.

Items are those of the acceptance list: 1 population sweep, 2 sample of solids, 3 bad input, 4 faults, 5 benchmarks, 6 fresh machines,
7 documents and pictures. A guard of the program is one that refuses, repairs or tells; one of the tests is a question that is asked.
"""

from dataclasses import dataclass

ITEMS = {
    1: "population sweep", 2: "sample of solids", 3: "bad input", 4: "faults", 5: "benchmarks", 6: "fresh machines", 7: "documents and pictures",
}  # fmt: skip


@dataclass(frozen=True)
class Guard:
    """One guard.

    text : as it stands exactly once in `file`
    without : what stands there if it is removed
    tests : those that must fail then
    ends : type of the error that escapes through the missing guard, where it is not an assertion that fails
    """

    item: int
    name: str
    file: str
    text: str
    without: str
    tests: tuple[str, ...]
    ends: str = ""


SWEEP = "tests/sweep/test_population.py::"
BAD_BODY = SWEEP + "test_a_kind_that_makes_a_bad_body_is_found"
BAD_CALL = "tests/cli/test_bad_calls.py::test_a_wrong_call_is_refused_and_leaves_no_trace"
FILESET = "tests/output/test_fileset.py::"
HOSTILE = "tests/faults/test_hostile.py::"
INSTALLED = "tests/faults/test_installation.py::"
PROMISES = "tests/test_promises.py::"
EXAMINE, FILES = "tests/sweep/examine.py", "print3d/output/fileset.py"

GUARDS = [
    # --- 1 population sweep: every question of the sweep, and what the program itself does that the answers are good ----------
    Guard(1, "closed", EXAMINE, "if (open_edges := measure_open_edges(mesh)[0]) > 0:", "if open_edges := 0:", (f"{BAD_BODY}[open]",)),
    Guard(1, "one body", EXAMINE, "if (bodies := count_bodies(mesh)) != 1:", "if bodies := 0:", (f"{BAD_BODY}[several bodies]",)),
    Guard(1, "no overlap with itself", EXAMINE, "if (overlaps := measure_overlaps(mesh)[0]) > 0:", "if overlaps := 0:", (f"{BAD_BODY}[runs through itself]",)),
    Guard(1, "positive volume", EXAMINE, "if not mesh.volume_mm3() > 0.0:", "if mesh.volume_mm3() == 0.0:", (f"{BAD_BODY}[no volume]",)),
    Guard(1, "numbers for places", EXAMINE, "if not np.isfinite(mesh.vertices).all():", "if not len(mesh.vertices):",
          (f"{SWEEP}test_a_place_that_is_no_number_is_found[nan]",), "ValueError"),
    Guard(1, "depth in the skin", EXAMINE, "MOST_PENETRATION_MM = 0.5", "MOST_PENETRATION_MM = 0.6",
          (f"{SWEEP}test_half_a_millimetre_into_the_skin_is_allowed_and_no_more[0.55-True]",)),
    Guard(1, "no exception", EXAMINE, "    except Exception as error:", "    except StopIteration as error:",
          (f"{SWEEP}test_an_exception_is_found_with_its_traceback",), "ZeroDivisionError"),
    Guard(1, "an end in time", EXAMINE, "signal.alarm(MOST_SECONDS)", "signal.alarm(0)", (f"{SWEEP}test_a_body_without_end_is_found",)),
    Guard(1, "a refusal with its number", EXAMINE, "silent = () if", "silent = () if told or", (f"{SWEEP}test_a_refusal_without_a_number_is_found",)),
    Guard(1, "findings are there", EXAMINE, "if missing := ALWAYS - ", "if missing := set() - ",
          (f"{SWEEP}test_a_check_without_a_number_is_found[nothing found at all]",)),
    Guard(1, "findings are numbers", EXAMINE, "if not all(math.isfinite(number) for number in numbers):", "if not numbers:",
          tuple(f"{SWEEP}test_a_check_without_a_number_is_found[{name}]" for name in ("no number", "no limit", "no place", "no mark from which it is watched"))),
    Guard(1, "the same bytes again", EXAMINE, ".build(case_of(data)))) != mark:", ".build(case_of(data)))) == '':", (f"{BAD_BODY}[not repeatable]",)),
    Guard(1, "the same bytes in another process", EXAMINE, "if in_fresh_process and", "if not data and",
          (f"{SWEEP}test_another_body_in_another_process_is_found",)),
    Guard(1, "a process that ends", "tests/sweep/population.py", "    except StudyError as error:", "    except StopIteration as error:",
          (f"{SWEEP}test_a_body_that_ends_its_process_is_a_fault_of_that_body",), "StudyError"),
    Guard(1, "rows of this program alone", "tests/sweep/population.py", ' and row["program"] == program()', "", (f"{SWEEP}test_a_stopped_sweep_goes_on",)),
    Guard(1, "shrinking leaves keys out", "tests/sweep/shrink.py", "least = least, _with_less(least, still_fails_in_time)", "least = least, least",
          (f"{SWEEP}test_shrinking_leaves_what_matters",)),
    Guard(1, "shrinking ends", "tests/sweep/shrink.py", "next(asked, None) is not None and ", "", (f"{SWEEP}test_shrinking_ends",)),
    Guard(1, "a triangle once", "print3d/checks/integrity.py", " and (np.diff(in_order) > 0).all()", "",
          ("tests/checks/test_integrity.py::test_a_body_laid_over_itself_is_no_closed_surface",)),
    Guard(1, "hollows are bridged", "print3d/shell/hollows.py", "lift = _least_lift(grid, (1.0 - LEAST_LEFT) / wall_mm)", "lift = np.zeros(grid.is_used.shape)",
          ("tests/shell/test_hollows.py::test_valley_and_pit_are_bridged_by_the_circle_that_touches_both_sides[valley across]",)),
    Guard(1, "vents well apart", "print3d/forms/trough.py", "return well_apart(placed, 2 * plan.options.rim_radius_mm + BETWEEN_RIMS_MM)", "return tuple(placed)",
          ("tests/sweep/test_random_forearms.py::test_vents_stay_apart_where_the_pattern_is_sheared",), "ShapingError"),
    Guard(1, "rims that cross between their samples", "print3d/shell/outlines.py", 'predicate="dwithin", distance=reach', 'predicate="intersects"',
          ("tests/shell/test_shell.py::test_rims_that_cross_between_their_samples_are_refused",)),
    Guard(1, "a bridge for two rims", "print3d/inputs/options.py", "    least = 2 * rim + BETWEEN_RIMS_MM\n    if bridge", "    least = 2 * rim\n    if bridge",
          ("tests/inputs/test_case_files.py::test_a_bridge_is_wider_than_two_rims",)),
    # --- 2 sample of solids ----------------------------------------------------------------------------------------------
    Guard(2, "agreement with the mesh", EXAMINE, "assert_agree(solid, part.shell.mesh, SOLID_FACET_MM)", "pass",
          (f"{SWEEP}test_a_solid_that_differs_from_its_mesh_is_found[shifted]",)),
    Guard(2, "one closed body", EXAMINE, "assert_one_closed_body(solid, len(pattern.holes) + len(pattern.boundary) - 1)", "pass",
          (f"{SWEEP}test_a_solid_that_is_no_single_body_is_found",)),
    Guard(2, "a solid at all", EXAMINE, 'yield Fault("no solid", f"{part.name}: {error}")', "assert error",
          (f"{SWEEP}test_what_the_kernel_cannot_build_is_found",)),
    Guard(2, "one solid", "print3d/shell/solid.py", "if len(solids) != 1:", "if not solids:", ("tests/shell/test_solid.py::test_a_vent_outside_the_outline_is_refused",), "ValueError"),
    Guard(2, "a valid solid", "print3d/shell/solid.py", "not only.isValid() or ", "", ("tests/shell/test_solid.py::test_a_solid_that_crosses_itself_is_refused",)),
    Guard(2, "turned outward", "print3d/shell/solid.py", " or not BRepLib.OrientClosedSolid_s(only.wrapped)", "", ("tests/shell/test_solid.py::test_an_inside_out_solid_is_turned",)),
    Guard(2, "loops that cross", "print3d/shell/solid.py", "    refuse_crossings(definition)\n", "", ("tests/shell/test_solid.py::test_vents_too_close_for_their_rims_are_refused_with_both_numbers",)),
    Guard(2, "the step that failed", "print3d/shell/solid.py", "except Exception as error:  # the kernel's exceptions have no common base", "except StopIteration as error:",
          ("tests/shell/test_solid.py::test_a_failure_of_the_kernel_names_the_step_and_its_dimensions",), "StdFail_NotDone"),
    Guard(2, "the same STEP bytes", "print3d/output/mesh/step.py", "return OCCURRENCE.sub(lambda found: f\"{found[1]}'{next(numbers)}'\", text)", "return text",
          ("tests/shell/test_solid.py::test_step_file_is_in_millimetres_named_and_repeatable",)),
    # --- 3 bad input -----------------------------------------------------------------------------------------------------
    Guard(3, "a refusal is no traceback", "print3d/cli/main.py", "    except Print3dError as error:\n        complain(error)\n        sys.exit(REFUSED)\n    except ImportError", "    except ImportError",
          (f"{BAD_CALL}[build-no such format]", f"{BAD_CALL}[suggest-a misspelt injury]"), "InputError"),
    Guard(3, "a refusal of one case", "print3d/cli/main.py", "        except Print3dError as error:", "        except StopIteration as error:",
          ("tests/cli/test_cli.py::test_every_case_is_reported_and_the_worst_code_counts",)),
    Guard(3, "exit 2", "print3d/cli/console.py", "HOLDS, FAILS, REFUSED = 0, 1, 2", "HOLDS, FAILS, REFUSED = 0, 1, 1", (f"{BAD_CALL}[check-check a folder]",)),
    Guard(3, "a message that moves no cursor", "print3d/cli/console.py", '"\\n".join(printable(line) for line in str(message).split("\\n"))', "str(message)",
          (f"{BAD_CALL}[build-a name that colours a terminal]",)),
    Guard(3, "unknown keys", "print3d/inputs/table.py", 'extra="forbid"', 'extra="ignore"', (f"{BAD_CALL}[check-check a misspelt key]",)),
    Guard(3, "no number without end in a file", "print3d/inputs/table.py", "allow_inf_nan=False", "allow_inf_nan=True", (f"{BAD_CALL}[check-a figure without end]",)),
    Guard(3, "no NaN on the command line", "print3d/cli/console.py", "if value is not None and not isfinite(value):", "if value is not None and isinstance(value, str):",
          ("tests/cli/test_cli.py::test_an_option_that_is_no_number_is_refused_whatever_the_parser_lets_through[nan]",)),
    Guard(3, "all problems at once", "print3d/inputs/validation.py", "    problems += _contradictions(model, data, bad, ())\n", "", ("tests/inputs/test_bad_input.py::test_all_problems_of_a_file_come_at_once",)),
    Guard(3, "a flood of problems", "print3d/inputs/problems.py", "if len(lines) > MOST_SHOWN:", "if not lines:", ("tests/inputs/test_bad_input.py::test_of_a_flood_of_problems_the_first_are_told",)),
    Guard(3, "a pipe in an old code page", "print3d/cli/main.py", 'stream.reconfigure(errors="replace")', "pass", ("tests/cli/test_cli.py::test_a_pipe_in_an_old_code_page_stops_nothing",)),
    Guard(3, "formats", "print3d/cli/console.py", "if not asked or any(name not in FORMATS for name in asked):", "if not asked:", ("tests/inputs/test_bad_input.py::test_unknown_formats_are_refused_once",)),
    Guard(3, "two cases of one code", "print3d/cli/main.py", "        refuse_second(first_with, case.header.code, path)\n", "", ("tests/cli/test_cli.py::test_two_cases_of_one_code_do_not_replace_each_other",)),
    Guard(3, "a bed too small", "print3d/flow.py", "    _refuse_too_large(case, orthosis)\n", "", ("tests/inputs/test_bad_input.py::test_a_bed_too_small_names_both_sizes",)),
    Guard(3, "a file that is there", "print3d/cli/suggest.py", "    if path.exists():", "    if path is None:", (f"{BAD_CALL}[suggest-a file that is there]",)),
    Guard(3, "a folder for a file", "print3d/inputs/toml_file.py", "if path.is_dir():", "if path is None:", ("tests/inputs/test_bad_input.py::test_a_folder_is_refused_with_a_file_in_it",)),
    Guard(3, "a table of many wrong calls", "tests/bad_calls.py", "*SHEET, *REMAKE, *MODELS, *CLASS_SET, *SCHEMA]", "*SHEET]", ("tests/cli/test_bad_calls.py::test_every_command_is_misused",)),
    Guard(3, "odd values of a variation", "print3d/studies/variants.py", "except (ValueError, RecursionError):", "except (tomllib.TOMLDecodeError, RecursionError):",
          ("tests/inputs/test_odd_input.py::test_any_variation",), "ValueError"),
    Guard(3, "odd records", "print3d/output/record/record.py", "except (ValueError, RecursionError, AttributeError) as error:", "except (ValueError, RecursionError) as error:",
          ("tests/inputs/test_odd_input.py::test_any_bytes_for_a_record",), "AttributeError"),
    # --- 4 faults ---------------------------------------------------------------------------------------------------------
    Guard(4, "killed: written beside the old set", FILES, "                yield fresh\n                _replace(target, fresh, old)", "                target.mkdir(exist_ok=True)\n                yield target",
          (f"{FILESET}test_a_killed_build_leaves_one_whole_set[while writing-old]", "tests/output/test_interrupted_sets.py::test_killed_before_any_file_operation_it_is_the_old_set_or_the_new_one")),
    Guard(4, "killed: the next build puts back", FILES, "            _put_back(target, old)\n            _refuse_what_is_no_folder(target)\n            shutil", "            _refuse_what_is_no_folder(target)\n            shutil",
          (f"{FILESET}test_a_killed_build_leaves_one_whole_set[between the renames-old]",)),
    Guard(4, "stopped between the renames", FILES, "        _put_back(target, old)\n\n\ndef _keep_foreign", "        pass\n\n\ndef _keep_foreign",
          (f"{FILESET}test_a_stop_between_the_renames_puts_the_old_set_back[KeyboardInterrupt]",)),
    Guard(4, "a failing build clears up", FILES, "            finally:\n                shutil.rmtree(fresh, ignore_errors=True)", "            finally:\n                pass", (f"{FILESET}test_a_failing_build_changes_nothing",)),
    Guard(4, "files of the user's own", FILES, "        _keep_foreign(target, fresh)\n", "        pass\n", (f"{FILESET}test_what_the_user_put_there_is_kept",), "FileNotFoundError"),
    Guard(4, "two builds at once", FILES, "        with FileLock(lock, timeout=0):\n            yield", "        yield", (f"{FILESET}test_two_builds_never_mix",)),
    Guard(4, "killed: a worker's jobs go to another one", "print3d/workers.py", "        except BrokenProcessPool:\n", "        except StopIteration:\n", ("tests/studies/test_compare.py::test_a_lost_worker_loses_no_result",), "BrokenProcessPool"),
    Guard(4, "killed: a part beside the set puts back", FILES, '            _put_back(target, target.with_name(f".{name}.old"))\n', "", (f"{FILESET}test_a_part_beside_a_set_brings_back_what_a_killed_build_left",), "FileNotFoundError"),
    Guard(4, "stopped: workers finish what they have", "print3d/workers.py", "    signal.signal(signal.SIGINT, signal.SIG_IGN)\n", "", ("tests/studies/test_compare.py::test_after_ctrl_c_workers_finish_what_they_have_and_begin_little_more",)),
    Guard(4, "killed: workers end with the program", "print3d/workers.py", "    Thread(target=_end_with_the_parent, daemon=True).start()\n", "", ("tests/studies/test_compare.py::test_a_killed_program_takes_its_workers_with_it",)),
    Guard(4, "what cannot be copied", FILES, "    if isinstance(error, shutil.Error | shutil.SpecialFileError):", "    if error is None:",
          (f"{FILESET}test_what_the_user_put_there_and_cannot_be_copied_stops_the_new_set[mine/pipe]",), "Error"),
    Guard(4, "full disk", FILES, "DISK_TROUBLE = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EROFS}", "DISK_TROUBLE = set[int]()",
          ("tests/faults/test_disks.py::test_a_build_on_a_full_disk[stl]",), "OSError"),
    Guard(4, "full disk: 3MF by way of memory", "print3d/output/mesh/threemf.py", "    path.write_bytes(_package(lib3mf, model))", '    model.QueryWriter("3mf").WriteToFile(str(path))',
          (f"{FILESET}test_a_full_disk_is_told_and_leaves_the_old_set[3mf]",)),
    Guard(4, "full disk: kept results", "print3d/studies/store.py", "                unfinished.unlink(missing_ok=True)\n", "                pass\n", ("tests/faults/test_disks.py::test_kept_results_on_a_full_disk",)),
    Guard(4, "full disk: a started case", "print3d/cli/suggest.py", "            unfinished.unlink(missing_ok=True)\n", "            pass\n", ("tests/faults/test_disks.py::test_a_started_case_on_a_full_disk",)),
    Guard(4, "read-only: asked before the build", "print3d/flow.py", "    refuse_unwritable(folder, case.header.code)\n", "",
          ("tests/faults/test_disks.py::test_a_build_on_a_disk_that_only_reads", "tests/inputs/test_bad_input.py::test_an_output_folder_that_cannot_be_written_stops_before_the_build")),
    Guard(4, "a link for the folder", FILES, "    if target.is_symlink() or (target.exists() and not target.is_dir()):", "    if target.exists() and not target.is_dir():",
          (f"{FILESET}test_a_link_cannot_lead_out_of_the_folder",)),
    Guard(4, "font: damaged", "print3d/language/fonts.py", "    if int(words.sum(dtype=np.uint32)) != WHOLE_FILE_SUM:", "    if words is None:",
          tuple(f"{INSTALLED}test_a_font_that_cannot_be_used_is_named[{damage}]" for damage in ("a bit turned", "cut off", "text"))),
    Guard(4, "font: unreadable", "print3d/language/fonts.py", "    except OSError as error:", "    except StopIteration as error:", (f"{INSTALLED}test_a_font_that_cannot_be_used_is_named[gone]",), "FileNotFoundError"),
    Guard(4, "library: missing", "print3d/cli/main.py", "        message = missing_library(error)\n", "        message = None\n", (f"{INSTALLED}test_a_missing_library_is_named_with_its_package[igl-libigl-stl]",), "ModuleNotFoundError"),
    Guard(4, "library: of a cluster", "print3d/workers.py", "    except ImportError as error:", "    except StopIteration as error:", (f"{INSTALLED}test_a_cluster_without_its_library",)),
    Guard(4, "library: does not load", "print3d/cli/installation.py", "    if SYSTEM_LIBRARY in str(error):", "    if error is None:", (f"{INSTALLED}test_a_library_that_does_not_load_names_what_the_system_lacks",)),
    Guard(4, "library: our own mistake", "print3d/cli/installation.py", '    if not module or module == "print3d":', "    if not module:", (f"{INSTALLED}test_a_missing_module_of_our_own_stays_a_traceback",)),
    Guard(4, "code: on the command line", "print3d/inputs/folder_name.py", "    if not re.fullmatch(CODE, name):", "    if not name:",
          (f"{BAD_CALL}[suggest-a file of a hostile code]", f"{BAD_CALL}[class-set-a list with a name that climbs]")),
    Guard(4, "code: of a case", "print3d/inputs/case.py", 'wanted = trouble_with(code) if code else ""', 'wanted = ""',
          (f"{BAD_CALL}[build-code of a device of Windows]",)),
    Guard(4, "code: of a folder", FILES, '    if not re.fullmatch(r"[A-Za-z0-9_-]{1,100}", name):', "    if not name:",
          tuple(f"{FILESET}test_a_code_cannot_leave_the_folder[{code}]" for code in (".hidden", "C:"))),
    Guard(4, "code: a device", FILES, "    if is_device(name):", "    if name is None:", (f"{HOSTILE}test_a_hostile_code_names_no_folder['con']",)),
    Guard(4, "TOML: nested deeply", "print3d/inputs/toml_file.py", "    except RecursionError as error:", "    except StopIteration as error:", ("tests/inputs/test_bad_input.py::test_lists_nested_a_thousand_deep_are_refused",), "RecursionError"),
    Guard(4, "TOML: huge numbers", "print3d/inputs/toml_file.py", "    except ValueError as error:  # TOML", "    except tomllib.TOMLDecodeError as error:  # TOML",
          ("tests/inputs/test_bad_input.py::test_text_that_is_no_toml_is_refused_with_its_line[5000 digits]",), "ValueError"),
    Guard(4, "TOML: 50 MB", "print3d/inputs/toml_file.py", "        if size > largest_bytes:", "        if size < 0:", ("tests/inputs/test_bad_input.py::test_a_large_file_is_not_read",)),
    Guard(4, "TOML: keys of very many parts", "print3d/inputs/toml_file.py", "    _refuse_dots(path, text)\n", "", ("tests/inputs/test_bad_input.py::test_keys_of_very_many_parts_are_refused_before_they_are_read",)),
    Guard(4, "TOML: a pipe", "print3d/inputs/toml_file.py", "if path.exists() and not path.is_file():", "if path is None:", ("tests/inputs/test_bad_input.py::test_a_pipe_is_refused_at_once",)),
    Guard(4, "CSV: very many columns", "print3d/inputs/class_list.py", "    if len(keys) > MOST_COLUMNS:", "    if not keys:", (f"{BAD_CALL}[class-set-a list of very many columns]",)),
    # --- 5 benchmarks -----------------------------------------------------------------------------------------------------
    Guard(5, "a program that fails", "tests/benchmarks/benchmark_all.py", "    if code not in (0, 1):", "    if code is None:", ("tests/test_benchmarks.py::test_a_program_that_fails_is_not_timed[2]",)),
    Guard(5, "one thread", "tests/benchmarks/benchmark_all.py", "cwd=ROOT, env=single_threaded())", "cwd=ROOT)", ("tests/test_benchmarks.py::test_a_measured_program_has_one_thread",), "SystemExit"),
    Guard(5, "memory without the parent's", "tests/benchmarks/benchmark_all.py", 'asked = [sys.executable, "-c", LAUNCHER, *command]', 'asked = [sys.executable, "-c", "ballast = b\'x\' * 200_000_000" + LAUNCHER, *command]',
          ("tests/test_benchmarks.py::test_a_program_is_measured_without_the_memory_of_its_parent",)),
    Guard(5, "every kind", "tests/benchmarks/benchmark_all.py", '"figure_of_eight",\n', "\n", ("tests/test_benchmarks.py::test_every_kind_is_measured",)),
    Guard(5, "largest costs first", "tests/benchmarks/benchmark_all.py", "sorted(steps_of(row).items(), key=lambda item: -item[1])", "sorted(steps_of(row).items())",
          ("tests/test_benchmarks.py::test_the_table_adds_up_and_names_the_largest_costs",)),
    # --- 6 fresh machines -------------------------------------------------------------------------------------------------
    Guard(6, "wheel: the whole package", "pyproject.toml", 'packages = ["print3d"]\n\n[tool.ruff]', 'packages = ["print3d"]\nexclude = ["*.toml"]\n\n[tool.ruff]', (f"{PROMISES}test_the_wheel_takes_the_package_whole",)),
    Guard(6, "wheel: a file left out", "tests/installed/test_wheel.py", 'NOT_PACKED = {".pyc"}', 'NOT_PACKED = {".pyc", ".toml"}', ("tests/installed/test_wheel.py::test_a_file_that_is_left_out_is_seen[language/de/sheets.toml]",)),
    Guard(6, "wheel: a version without an installation", "print3d/__init__.py", "except PackageNotFoundError:  #", "except StopIteration:  #", (f"{PROMISES}test_a_tree_that_is_not_installed_has_a_version_too",)),
    Guard(6, "least versions: every need has one", "pyproject.toml", '"scipy>=1.15"', '"scipy"', (f"{PROMISES}test_every_need_has_a_least_version_that_is_met_here[scipy]",)),
    Guard(6, "tests left to CI", ".ci/run", "'pytest -q -n 2 -m slow(in_ci=True)' ", "", (f"{PROMISES}test_ci_runs_what_the_quick_command_leaves_to_it",)),
    Guard(6, "least versions: asked for exactly", ".ci/minimum", '"==", need, count=1', '">=", need, count=1', (f"{PROMISES}test_the_oldest_versions_are_asked_for_exactly",)),
    Guard(6, "needs are declared", "pyproject.toml", '    "ezdxf>=1.3",           # flat patterns as DXF\n', "", ("tests/test_floors.py::test_no_import_breaks_a_rule[is_undeclared]",)),
    Guard(6, "licences: no GPL at run time", "tests/licences.py", 'AT_RUN_TIME = {"LGPL", ', 'AT_RUN_TIME = {"GPL", "LGPL", ', ("tests/test_licences.py::test_a_planted_licence_is_told_apart[GPL-2.0-or-later-GPL]",)),
    Guard(6, "licences: the list names all", "print3d/LICENCES.md", "| shapely | ", "| shapeless | ", ("tests/test_licences.py::test_the_page_names_every_declared_package_with_its_licence",)),
    Guard(6, "Pythons: the oldest", "pyproject.toml", 'requires-python = ">=3.11"', 'requires-python = ">=3.10"', (f"{PROMISES}test_every_place_promises_the_same_pythons",)),
    Guard(6, "Pythons: this one", "pyproject.toml", '    "Programming Language :: Python :: 3.12",\n', "", (f"{PROMISES}test_every_place_promises_the_same_pythons",)),
    # --- 7 documents and pictures -----------------------------------------------------------------------------------------
    Guard(7, "toys: a step of the kind", "DEVELOPERS.md", "2. Its import and its line in `kinds/registry.py`.", "2. Its import.", ("tests/test_adding_a_kind_and_a_check.py::test_developers_md_names_every_file_that_was_touched",)),
    Guard(7, "toys: a step of the check", "DEVELOPERS.md", "3. Its import and its entry in `checks/suite.py`.", "3. Its import.", ("tests/test_adding_a_kind_and_a_check.py::test_developers_md_names_every_file_that_was_touched",)),
    Guard(7, "toys: the check is run", "tests/test_adding_a_kind_and_a_check.py", '    ("checks/suite.py", "    check_gap,\\n", "    check_heft,\\n"),\n', "", ("tests/test_adding_a_kind_and_a_check.py::test_the_steps_are_enough",)),
    Guard(7, "pictures: one of every kind", "README.md", "](outputs/pictures/mallet.png)", "](outputs/pictures/pip_extension.png)", ("tests/test_readme.py::test_every_kind_has_a_picture",)),
    Guard(7, "pictures: as the tool makes them", "tests/readme_pictures.py", "COLOURS, SCALE = 256", "COLOURS, SCALE = 4", ("tests/test_readme.py::test_a_picture_is_what_the_tool_makes",)),
    Guard(7, "README: its first command", "README.md", "<!-- first command -->\n", "", (f"{PROMISES}test_the_commands_that_fresh_machines_take_from_the_readme_are_marked[first command-print3d build params/cases/]",)),
    Guard(7, "README: its links", "README.md", "](print3d/LICENCES.md)", "](print3d/LICENSES.md)", ("tests/test_readme.py::test_every_path_is_there",)),
    Guard(7, "change log: this version", "pyproject.toml", 'version = "0.3.0"', 'version = "0.3.1"', (f"{PROMISES}test_the_change_log_ends_with_this_version",)),
]  # fmt: skip
